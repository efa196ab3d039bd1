"""A copy of a site file: all of it but its id, for another house or to try something."""

from __future__ import annotations

import re
import tomllib
import uuid
from pathlib import Path

import pytest

DAYS = ("--from", "2027-01-01", "--until", "2027-01-03")


def test_a_copy_has_an_id_of_its_own_and_every_comment(daylatch, alder_row):
    ran = daylatch("new", "--like", "site.toml", "-o", "try.toml")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == (
        "wrote try.toml: like site.toml, with an id of its own\nNext: daylatch check try.toml\n"
    )
    old, new = (Path(name).read_text().splitlines() for name in ("site.toml", "try.toml"))
    changed = [(a, b) for a, b in zip(old, new, strict=True) if a != b]
    assert len(changed) == 1
    ids = [re.fullmatch('id = "(.*)"', line)[1] for line in changed[0]]
    assert uuid.UUID(ids[0]) != uuid.UUID(ids[1])
    for name in ("site.toml", "try.toml"):
        ran = daylatch("check", name)
        assert (ran.status, "the same id" in ran.err) == (0, False)
        assert daylatch("plan", name, *DAYS, "--to", "ics").status == 0


def test_a_copy_may_have_another_name(daylatch, alder_row):
    ran = daylatch("new", "second.toml", "--like", "site.toml", "--name", ' Back "yard" ')
    assert 'with an id of its own, as Back "yard"' in ran.out
    assert tomllib.loads(Path("second.toml").read_text())["name"] == 'Back "yard"'


@pytest.mark.parametrize(
    ("arguments", "status", "message"),
    [
        ([], 2, "name the file to write, such as daylatch new site.toml"),
        (["a.toml", "-o", "b.toml"], 2, "a.toml and b.toml: name one file to write"),
        (["a.toml", "--like", "no.toml"], 3, "no.toml: site file: cannot be read"),
        (["a.toml", "--like", "bad.toml"], 3, "bad.toml, line 1: id = 5"),
        (["site.toml", "--like", "site.toml"], 6, "site.toml: exists, so it is left as it is"),
        (["a.toml", "--like", "site.toml", "--city", "Oslo"], 2, "--city does not go with --like"),
        (["a.toml", "--like", "site.toml", "--all"], 2, "--all does not go with --like"),
        (["a.toml", "--like", "site.toml", "--fallback-open", "06:00"], 2, "--fallback-open does"),
        (["a.toml", "--like", "site.toml", "--name", ""], 2, '--name is "": write 1 to 100'),
        (["a.toml", "--like", "site.toml", "--name", "a\x1bb"], 2, "take out the invisible"),
        (["no/a.toml", "--like", "site.toml"], 6, "cannot be written"),
    ],
)
def test_what_cannot_be_copied_changes_nothing(daylatch, alder_row, arguments, status, message):
    Path("bad.toml").write_text("id = 5\n")
    before = {path: path.read_bytes() for path in Path().iterdir()}
    ran = daylatch("new", *arguments)
    assert (ran.status, ran.out) == (status, "")
    assert message in ran.err
    assert {path: path.read_bytes() for path in Path().iterdir()} == before


def test_a_file_is_never_made_like_itself(daylatch, alder_row):
    before = alder_row.read_bytes()
    ran = daylatch("new", "./site.toml", "--like", "site.toml", "--force")
    assert (ran.status, "is the file to copy" in ran.err) == (6, True)
    assert alder_row.read_bytes() == before


def test_ends_of_lines_stay(daylatch, alder_row):
    alder_row.write_bytes(alder_row.read_bytes().replace(b"\n", b"\r\n"))
    assert daylatch("new", "try.toml", "--like", "site.toml").status == 0
    lines = Path("try.toml").read_bytes().split(b"\n")
    assert all(line.endswith(b"\r") for line in lines[:-1])
