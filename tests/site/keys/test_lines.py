"""At which line each key stands: kinds of statements by name, then generated files."""

import time
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.site.keys.lines import lines_of_keys

EVERY_KIND = '''\
# [not.a.table]
id = "a"  # name = "not a key"
"quoted key" = 1
'literal "key"' = 2

  [place]
latitude = 1
a.b.c = 2
"d e" . f = 3
point = { x = 1, y.z = 2 }
notes = """
[fake]
fake = 1 # "
\\""" still inside ""
"""
path = \'\'\'
fake = "
\'\'\'\'
list = [
  1,   # ]
  "]", # [
  { fake = 1 },
]
after = true

[[span]]
from = 2027-01-01
close.offset_min = 3
[span.open]
light = 3
[[span]]   # the second
from = 1
[span.day]
least_open_h = 2
[[span.part]]
x = 1
[[span.part]]
x = 2
[span.part.deep]
y = 3

[one.two]
[one.two.three]
z = 1
["we.ird"."#x"]
k = 1
last = "no line end after this"'''

EXPECTED = {
    ("id",): 2,
    ("quoted key",): 3,
    ('literal "key"',): 4,
    ("place",): 6,
    ("place", "latitude"): 7,
    ("place", "a"): 8,
    ("place", "a", "b"): 8,
    ("place", "a", "b", "c"): 8,
    ("place", "d e"): 9,
    ("place", "d e", "f"): 9,
    ("place", "point"): 10,
    ("place", "point", "x"): 10,
    ("place", "point", "y"): 10,
    ("place", "point", "y", "z"): 10,
    ("place", "notes"): 11,
    ("place", "path"): 16,
    ("place", "list"): 19,
    ("place", "list", 0): 19,
    ("place", "list", 1): 19,
    ("place", "list", 2): 19,
    ("place", "after"): 24,
    ("span",): 26,
    ("span", 0): 26,
    ("span", 0, "from"): 27,
    ("span", 0, "close"): 28,
    ("span", 0, "close", "offset_min"): 28,
    ("span", 0, "open"): 29,
    ("span", 0, "open", "light"): 30,
    ("span", 1): 31,
    ("span", 1, "from"): 32,
    ("span", 1, "day"): 33,
    ("span", 1, "day", "least_open_h"): 34,
    ("span", 1, "part"): 35,
    ("span", 1, "part", 0): 35,
    ("span", 1, "part", 0, "x"): 36,
    ("span", 1, "part", 1): 37,
    ("span", 1, "part", 1, "x"): 38,
    ("span", 1, "part", 1, "deep"): 39,
    ("span", 1, "part", 1, "deep", "y"): 40,
    ("one", "two"): 42,
    ("one", "two", "three"): 43,
    ("one", "two", "three", "z"): 44,
    ("we.ird", "#x"): 45,
    ("we.ird", "#x", "k"): 46,
    ("we.ird", "#x", "last"): 47,
}


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_every_kind_of_statement(end):
    assert lines_of_keys(EVERY_KIND.replace("\n", end)) == EXPECTED


def test_a_file_of_nothing():
    assert lines_of_keys("") == lines_of_keys("\n# only = 1\n\n") == {}


@pytest.mark.parametrize("separator", ["\u2028", "\u2029", "\x85"])
def test_only_line_ends_of_toml_count_as_lines(separator):
    """Unicode's other line ends may stand in strings and comments."""
    text = f'a = "x{separator}y" # x{separator}y\nb = 1\n'
    assert lines_of_keys(text) == {("a",): 1, ("b",): 2}


def test_what_follows_a_very_long_statement_keeps_its_line():
    entries = "1,\n" * 500
    assert lines_of_keys(f"a = [\n{entries}]\nb = 1\n")[("b",)] == 503
    inside = "b = 1\n" * 500
    assert lines_of_keys(f'a = """\n{inside}"""\nb = 1\n') == {("a",): 1, ("b",): 503}


def test_a_large_file_takes_no_longer_than_its_size():
    began = time.perf_counter()
    found = lines_of_keys("a = [\n" + "[1],\n" * 40_000 + "]\nb = 1\n")
    assert found[("b",)] == 40_003
    # Half a second where this was written; looking at every beginning anew would take hours.
    assert time.perf_counter() - began < 20


# --- Generated files ---------------------------------------------------------------------------

WORDS = ["from", "light", "a-b", "x_1", "7", "ä b", "we.ird", "#", "[x]", '"', "'", "="]
VALUES = [
    "1",
    "-2.5e3",
    "true",
    "2027-01-01",
    "06:30:00",
    '"text # [x] = 1"',
    "'C:\\path\\'",
    '"\\"[" # a comment "',
    '""',
    "''",
    "[1, [2], [[]]]",
    "[\n  1, # ]\n\n  2,\n]",
    "[ { x = 1 },\n{ y = '}' } ]",
    '"""one"""',
    '"""\nfake = 1\n[fake]\n"""',
    '"""a ""\\"" b"""""',
    "'''\nfake = 1\n'''''",
    "{ }",
    "{ fake = '''\n''' }",
]


def quoted(word):
    return '"' + word.replace('"', '\\"') + '"'


@st.composite
def documents(draw):
    """Return a TOML text, and the line that was counted for each key while it was written."""
    lines, expected = [], {}

    def spare():
        for filler in draw(st.lists(st.sampled_from(["", "# x = 1", "\t# [x]", "  "]), max_size=2)):
            lines.append(filler)

    def keys(table):
        for word in draw(st.lists(st.sampled_from(WORDS), max_size=4, unique=True)):
            spare()
            inner = draw(st.sampled_from([(), ("inner",), ("inner", "most")]))
            key = ".".join(quoted(part) for part in (word, *inner))
            expected[(*table, word, *inner)] = len(lines) + 1
            tail = draw(st.sampled_from(["", " # x = 1"]))
            text = f"{key} = {draw(st.sampled_from(VALUES))}{tail}"
            lines.extend(text.split("\n"))

    keys(())
    for number in range(draw(st.integers(0, 4))):
        name = f"table {number}"
        entries = draw(st.integers(0, 2))
        for entry in range(max(entries, 1)):
            spare()
            path = (name, entry) if entries else (name,)
            header = f"[[{quoted(name)}]]" if entries else f"[{quoted(name)}]"
            expected[path] = len(lines) + 1
            lines.append(header)
            keys(path)
            if draw(st.booleans()):
                expected[(*path, "below")] = len(lines) + 1
                lines.append(f"[{quoted(name)}.below]")
                keys((*path, "below"))
    return draw(st.sampled_from(["\n", "\r\n"])).join(lines), expected


@given(documents())
def test_keys_of_generated_files_are_found_where_they_were_written(case):
    text, expected = case
    tomllib.loads(text)
    found = lines_of_keys(text)
    assert {path: found.get(path) for path in expected} == expected


@given(documents())
def test_every_key_that_the_reader_knows_has_a_line_that_names_it(case):
    text, _ = case
    lines = text.split("\n")
    found = lines_of_keys(text)

    def look(path, value):
        if isinstance(value, dict):
            for key, inner in value.items():
                if key != "fake":
                    assert quoted(key).strip('"') in lines[found[(*path, key)] - 1]
                    look((*path, key), inner)

    for key, value in tomllib.loads(text).items():
        entries = value if isinstance(value, list) and key.startswith("table") else None
        if entries is None:
            look((), {key: value})
        else:
            for number, entry in enumerate(entries):
                assert key in lines[found[(key, number)] - 1]
                look((key, number), entry)
