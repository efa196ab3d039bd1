"""Reading site files: every slip at once, with its line and its remedy, and nothing clamped."""

import os
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from daylatch.__main__ import run
from daylatch.clock import WallTime
from daylatch.errors import SiteError
from daylatch.site.reading.site_file import LARGEST_BYTES, load_site, read_site
from daylatch.site.starter.text import Start, starter_text
from daylatch.site.tables import TABLES, Head, Site, Span, ZoneSource, table_model

ID = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"
TOP = f'id = "{ID}"\nname = "Test house"\n'
PLACE = '[place]\nlatitude = 52.09\nlongitude = 5.12\nzone = "Europe/Amsterdam"\n'
GOOD = TOP + PLACE  # six lines
SPAN = "[[span]]\nfrom = 2027-03-01\nuntil = 2027-03-09\n"


def problems(text):
    """Return the messages about a text, without the name of the file."""
    with pytest.raises(SiteError) as caught:
        read_site(text, "site.toml")
    # One that is missing is made up on the spot.
    lines = re.sub('"[0-9a-f-]{36}" as', "a UUID as", str(caught.value)).splitlines()
    assert len(lines) == len(caught.value.problems)
    assert all(line.startswith("site.toml") for line in lines)
    return [line.removeprefix("site.toml").removeprefix(", ").removeprefix(": ") for line in lines]


def problem(text):
    (found,) = problems(text)
    return found


# --- Good files --------------------------------------------------------------------------------


def test_a_file_of_what_is_needed_has_every_default():
    site = read_site(GOOD, "site.toml")
    found = site.settings
    assert (site.id, site.name, site.zone) == (ID, "Test house", "Europe/Amsterdam")
    assert (site.latitude_deg, site.longitude_deg) == (52.09, 5.12)
    assert site.zone_source is ZoneSource.FILE
    assert site.warnings == ()
    assert (found.open.light, found.open.offset_min) == ("civil", 15)
    assert (found.close.light, found.close.offset_min) == ("civil", 15)
    assert found.flock is found.house is found.run is None
    assert found.spans == ()


def test_times_and_dates_may_be_written_in_either_way():
    site = read_site(
        GOOD
        + '[open]\nnot_before = 06:30:00\nnot_after = "9:00"\n'
        + '[[span]]\nfrom = "2027-03-01"\nuntil = 2027-03-09\n',
        "site.toml",
    )
    assert site.settings.open.not_before == WallTime(390)
    assert site.settings.open.not_after == WallTime(540)
    assert [str(d) for d in (site.settings.spans[0].first, site.settings.spans[0].last)] == [
        "2027-03-01",
        "2027-03-09",
    ]


def test_values_come_out_as_they_were_written():
    """At the very ends of what is allowed, nothing is clamped or rounded."""
    text = (
        TOP
        + '[place]\nlatitude = -90\nlongitude = 180.0\nzone = "UTC"\n'
        + "[open]\nlight = -20\noffset_min = -720\n[close]\nlight = 30\noffset_min = 720\n"
        + "[day]\nleast_open_h = 23.96\n[head_count]\nafter_close_min = 240\n"
    )
    site = read_site(text, "site.toml")
    found = site.settings
    assert (site.latitude_deg, site.longitude_deg) == (-90.0, 180.0)
    assert (found.open.light, found.open.offset_min) == (-20.0, -720)
    assert (found.close.light, found.close.offset_min) == (30.0, 720)
    assert (found.day.least_open_h, found.head_count.after_close_min) == (23.96, 240)


def test_a_span_gives_only_what_it_says():
    site = read_site(
        GOOD
        + '[open]\nnot_before = "08:00"\n'
        + SPAN
        + 'reason = "late"\nopen.not_before = "none"\nclose.offset_min = 15\n'
        + SPAN
        + SPAN
        + 'shut = false\nopen.fixed = "08:00"\n',
        "site.toml",
    )
    assert [dict(span.changes()) for span in site.settings.spans] == [
        {"open.not_before": None, "close.offset_min": 15},
        {},
        {"shut": False, "open.fixed": WallTime(480)},
    ]


def test_text_in_any_script_is_taken_as_it_is():
    name = "Høns & <b>'東京'</b> 🐔 \\\\ العربية"
    site = read_site(GOOD.replace("Test house", name), "site.toml")
    assert site.name == name.replace("\\\\", "\\")


def test_notes_may_have_several_lines():
    site = read_site(f'notes = """\na\nb"""\n{GOOD}', "site.toml")
    assert site.settings.head.notes == "a\nb"


def test_a_byte_order_mark_and_other_line_ends_do_no_harm(tmp_path):
    path = tmp_path / "site.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load_site(path).name == "Test house"
    path.write_bytes(
        b"\xef\xbb\xbf" + (GOOD + "[open]\noffset_min = 999\n").replace("\n", "\r\n").encode()
    )
    with pytest.raises(SiteError, match=r"line 8: open\.offset_min = 999: must be at most 720"):
        load_site(path)


# --- The zone ----------------------------------------------------------------------------------


def test_a_zone_left_out_is_found_from_the_coordinates():
    site = read_site(TOP + "[place]\nlatitude = 43.8\nlongitude = 87.6\n", "site.toml")
    assert (site.zone, site.zone_source) == ("Asia/Shanghai", ZoneSource.COORDINATES)
    assert site.warnings == ()


def test_a_city_brings_coordinates_and_zone():
    site = read_site(TOP + '[place]\ncity = "Tampere"\n', "site.toml")
    assert (site.zone, site.zone_source) == ("Europe/Helsinki", ZoneSource.CITY)
    assert site.place_name == "Tampere, Finland"
    assert site.latitude_deg == pytest.approx(61.5, abs=0.01)


def test_a_zone_that_is_given_stands_before_the_citys():
    site = read_site(TOP + '[place]\ncity = "Tampere"\nzone = "Europe/Oslo"\n', "site.toml")
    assert (site.zone, site.zone_source) == ("Europe/Oslo", ZoneSource.FILE)


def test_a_city_that_is_none_or_several_is_a_problem():
    assert problem(TOP + '[place]\ncity = "Nowhereville"\n') == (
        'line 4: place.city = "Nowhereville": no such city of 15,000 people or more in the list: '
        'write it like "Dunedin, New Zealand", or give latitude and longitude'
    )
    assert problem(TOP + '[place]\ncity = "Paris"\n') == (
        'line 4: place.city = "Paris": could be Paris, France; Paris, Texas, United States: '
        "write it as here, or give latitude and longitude"
    )


# --- Every slip at once ------------------------------------------------------------------------

RICH = """\
id = "five"
name = ""
notes = 5
colour = "red"

[place]
latitude = 95
longitude = 5.12
zone = "Europe/Amsterdm"
heigth = 3

[open]
light = "civl"
offset_min = 2400  # forty hours
not_before = "09:00"
not_after = "07:00"
fallbak = "05:00"

[close]
offset_min = true
fallback = 2230
light = nan

[day]
least_open_h = 25
widen = "sideways"
guard = "sunset"

[night]
least_h = "ten"

[head_count]
after_close_min = 15.5
second_pass = 1

[door]
clock = "sundial"

[calendar]
show = ["reasons", "adress"]
style = "weeks"

[flock]
birds = 0
size = "large"

[house]
floor_m2 = 2
floor_ft2 = 20
nest_box_cm = [30, "x", 30]

[run]
joined = "yes"

[opn]
light = 3

[[span]]
from = 2027-03-14
until = 2027-03-01
resaon = "storm"

[[span]]
from = "2027-02-30"
until = 2027-03-01
open.fixd = "08:00"
flock.birds = 3

[[span]]
from = 2027-03-01
until = 2027-03-02
open.not_before = "10:00"
open.not_after = "09:00"
day.gaurd = 3
"""

RICH_PROBLEMS = """\
line 1: id = "five": write a UUID such as `daylatch new` puts there (32 hexadecimal digits), and \
never change it afterwards
line 2: name = "": is too short: at least 1
line 3: notes = 5: write text in quotes
line 4: colour = "red": is not a key here; there are battery, calendar, card, clock, close, day, \
diary, door, feed, flock, head_count, home, house, id, laying, load, mqtt, name, night, norms, \
notes, open, panel, place, run, skyline, span, sync, timer, watch, writing
line 7: place.latitude = 95: must be at most 90; are latitude and longitude swapped?
line 9: place.zone = "Europe/Amsterdm": no such zone; did you mean Europe/Amsterdam?
line 10: place.heigth = 3: is not a key here; there are city, latitude, longitude, zone
line 13: open.light = "civl": write one of sunrise, civil, nautical, astronomical, or degrees of \
the Sun's centre below the horizon (-20 to 30)
line 14: open.offset_min = 2400: must be at most 720
line 15: open.not_before = "09:00": lies after open.not_after = "07:00": swap them or drop one
line 17: open.fallbak = "05:00": is not a key here; did you mean fallback?
line 20: close.offset_min = true: write a whole number
line 21: close.fallback = 2230: write a 24-hour time in quotes, like "06:30"
line 22: close.light = nan: write one of sunset, civil, nautical, astronomical, or degrees of the \
Sun's centre below the horizon (-20 to 30)
line 25: day.least_open_h = 25: must be at most 23.96
line 26: day.widen = "sideways": write one of 'open earlier', 'close later' or 'both'
line 27: day.guard = "sunset": write one of civil, nautical, astronomical, or degrees of the Sun's \
centre below the horizon (-20 to 30)
line 30: night.least_h = "ten": write a number
line 33: head_count.after_close_min = 15.5: write a whole number
line 34: head_count.second_pass = 1: write true or false
line 37: door.clock = "sundial": write one of 'wall', 'standard' or 'utc'
line 40: calendar.show.2 = "adress": write one of 'reasons', 'place', 'notes' or 'away'
line 41: calendar.style = "weeks": write one of 'movements', 'days' or 'steps'
line 44: flock.birds = 0: must be at least 1
line 45: flock.size = "large": write one of 'bantam', 'light', 'medium' or 'heavy'
line 49: house.floor_ft2 = 20: give it once, as floor_m2 or as floor_ft2
line 50: house.nest_box_cm.2 = "x": write a number
line 53: run.joined = "yes": write true or false
line 55: opn = a table: is not a key here; did you mean open?
line 58: span 1: ends (2027-03-01) before it begins (2027-03-14): swap the dates
line 61: span 1 resaon = "storm": is not a key here; did you mean reason?
line 64: span 2 from = "2027-02-30": write a date of the calendar, like 2027-01-31
line 66: span 2 open.fixd = "08:00": is not a key here; did you mean fixed?
line 67: span 2 flock = a table: is not a key here; there are away, close, day, from, head_count, \
night, open, reason, shut, sitter, tell, until
line 72: span 3 open.not_before = "10:00": lies after open.not_after = "09:00": swap them or drop \
one
line 74: span 3 day.gaurd = 3: is not a key here; did you mean guard?"""


def test_a_file_full_of_slips_names_them_all_in_order():
    assert "\n".join(problems(RICH)) == RICH_PROBLEMS


def test_the_command_prints_every_slip_and_ends_with_its_status(daylatch, tmp_path):
    (tmp_path / "site.toml").write_text(RICH)
    ran = daylatch("check")
    assert (ran.status, ran.out) == (3, "")
    assert [line.removeprefix("daylatch: site.toml, ") for line in ran.err.splitlines()] == (
        RICH_PROBLEMS.splitlines()
    )


@pytest.mark.parametrize(
    ("text", "messages"),
    [
        (
            "",
            [
                "id: is missing: write id = a UUID as the first line, and never change it",
                "name: is missing",
                "place: is missing: add [place] with latitude and longitude",
            ],
        ),
        (TOP, ["place: is missing: add [place] with latitude and longitude"]),
        (TOP + "[place]\n", ["line 3: place: give latitude and longitude, or a city"]),
        (
            TOP + "place = []\n",
            ["line 3: place = a list: is a table: write [place] with keys below it"],
        ),
        (
            TOP + "[place]\nlatitude = 3\n",
            ["line 3: place: give latitude and longitude, or a city"],
        ),
        (
            TOP + '[place]\ncity = "Utrecht"\nlatitude = 52\n',
            ["line 3: place: give either a city or latitude and longitude, not both"],
        ),
        (
            TOP + '[place]\nlatitude = 3\nzone = "Mars/Base"\n',
            [
                "line 3: place: give latitude and longitude, or a city",
                'line 5: place.zone = "Mars/Base": no such zone; write one like Europe/Oslo, or '
                "leave it out to have it found",
            ],
        ),
        (
            TOP + "[place]\nlatitude = nan\nlongitude = inf\n",
            [
                "line 4: place.latitude = nan: write a finite number",
                "line 5: place.longitude = inf: must be at most 180",
            ],
        ),
        (
            TOP + '[place]\nlatitude = "52.09"\nlongitude = true\n',
            [
                'line 4: place.latitude = "52.09": write a number',
                "line 5: place.longitude = true: write a number",
            ],
        ),
        (
            TOP + "[place]\nlatitude = 151.2\nlongitude = -33.9\n",
            [
                "line 4: place.latitude = 151.2: must be at most 90; are latitude and longitude "
                "swapped?"
            ],
        ),
        (
            TOP + "[place]\nlatitude = 5209\nlongitude = 512\n",
            [
                "line 4: place.latitude = 5209: must be at most 90",
                "line 5: place.longitude = 512: must be at most 180",
            ],
        ),
    ],
)
def test_what_must_be_there(text, messages):
    assert problems(text) == messages


@pytest.mark.parametrize(
    ("text", "message"),
    [
        # Whole numbers, numbers, and what looks like them.
        ("[open]\noffset_min = inf", "line 8: open.offset_min = inf: write a whole number"),
        ("[open]\noffset_min = 15.0", "line 8: open.offset_min = 15.0: write a whole number"),
        ("[open]\noffset_min = -721", "line 8: open.offset_min = -721: must be at least -720"),
        (
            f"[open]\noffset_min = {'9' * 100}",
            f"line 8: open.offset_min = {'9' * 57}...: must be at most 720",
        ),
        ("[flock]\nbirds = true", "line 8: flock.birds = true: write a whole number"),
        ("[day]\nleast_open_h = true", "line 8: day.least_open_h = true: write a number"),
        ("[day]\nleast_open_h = nan", "line 8: day.least_open_h = nan: write a finite number"),
        ("[day]\nleast_open_h = -1", "line 8: day.least_open_h = -1: must be at least 0"),
        ("[house]\nfloor_m2 = inf", "line 8: house.floor_m2 = inf: must be at most 100000"),
        ("[house]\nfloor_m2 = 0", "line 8: house.floor_m2 = 0: must be more than 0"),
        (
            "[house]\nnest_box_cm = [1, 2]",
            "line 8: house.nest_box_cm = a list: is too short: at least 3",
        ),
        ("[run]\ncovered = 0", "line 8: run.covered = 0: write true or false"),
        # Times of day.
        *[
            (
                f"[open]\nnot_before = {value}",
                f'line 8: open.not_before = {shown}: write a 24-hour time in quotes, like "06:30"',
            )
            for value, shown in [
                ('"24:00"', '"24:00"'),
                ('"6.30"', '"6.30"'),
                ('""', '""'),
                ('"None"', '"None"'),
                ("630", "630"),
                ("false", "false"),
                ("2027-01-01T06:30:00", "2027-01-01 06:30:00"),
                ("[]", "a list"),
            ]
        ],
        (
            "[open]\nnot_before = 06:30:15",
            "line 8: open.not_before = 06:30:15: write whole minutes, like 06:30:00",
        ),
        # Dates.
        *[
            (
                f"[[span]]\nfrom = {value}\nuntil = 2027-03-09",
                f"line 8: span 1 from = {shown}: write a date of the calendar, like 2027-01-31",
            )
            for value, shown in [
                ('"2027-02-29"', '"2027-02-29"'),
                ('"1 March 2027"', '"1 March 2027"'),
                ('"01-03-2027"', '"01-03-2027"'),
                ("2027", "2027"),
                ("2027-03-01T00:00:00", "2027-03-01 00:00:00"),
                ("06:30:00", "06:30:00"),
                ("true", "true"),
            ]
        ],
        ("[[span]]\nfrom = 2027-03-01", "line 7: span 1 until: is missing"),
        # Choices are taken to the letter.
        ('[open]\nlight = "sunset"', None),
        ('[close]\nlight = "sunrise"', None),
        ('[open]\nlight = "Civil"', None),
        ("[open]\nlight = true", None),
        ("[open]\nlight = 30.5", None),
        ("[open]\nlight = inf", None),
        (
            '[door]\nclock = "UTC"',
            "line 8: door.clock = \"UTC\": write one of 'wall', 'standard' or 'utc'",
        ),
        # Tables of the wrong shape.
        (
            "[[open]]\nlight = 3",
            "line 7: open = a list: is a table: write [open] with keys below it",
        ),
        (
            "[span]\nfrom = 2027-01-01",
            "line 7: span = a table: is a list of tables: write [[span]] for each",
        ),
        (SPAN + "open = 3", "line 10: span 1 open = 3: is a table of keys"),
        (SPAN + 'shut = "yes"', 'line 10: span 1 shut = "yes": write true or false'),
        (SPAN + "place.latitude = 3", None),
        (
            "[calendar]\nstyle = {a = 1}",
            "line 8: calendar.style = a table: write one of 'movements', 'days' or 'steps'",
        ),
        (
            '[calendar]\nshow = "reasons"',
            'line 8: calendar.show = "reasons": write a list in square brackets',
        ),
        # Together more than a day has.
        (
            "[day]\nleast_open_h = 15\n[night]\nleast_h = 9.5",
            "line 10: night.least_h = 9.5: day.least_open_h and night.least_h ask for 24.5 h "
            "together: keep them within 23 h 58 min",
        ),
        (
            f"[day]\nleast_open_h = 15\n{SPAN}night.least_h = 9",
            "line 12: span 1 night.least_h = 9.0: day.least_open_h and night.least_h ask for 24 h "
            "together: keep them within 23 h 58 min",
        ),
        # A span's limit against the file's own.
        (
            f'[close]\nnot_after = "21:00"\n{SPAN}close.not_before = "21:30"',
            'line 12: span 1 close.not_before = "21:30": lies after close.not_after = "21:00": '
            "swap them or drop one",
        ),
    ],
)
def test_one_slip_is_one_message(text, message):
    found = problem(f"{GOOD}{text}\n")
    if message is None:
        assert found.startswith(f"line {10 if text.startswith(SPAN) else 8}: ")
        assert "write one of" in found or "is not a key here" in found
    else:
        assert found == message


@pytest.mark.parametrize(
    "text",
    [
        # Around midnight a limit means the occurrence nearest to its side of the day.
        '[close]\nnot_before = "21:00"\nnot_after = "00:30"\n',
        '[open]\nnot_before = "23:30"\nnot_after = "06:00"\n',
        '[open]\nnot_before = "06:30"\nnot_after = "06:30"\n',
        # A span may lift what would contradict it.
        '[close]\nnot_after = "21:00"\n'
        f'{SPAN}close.not_before = "21:30"\nclose.not_after = "none"\n',
        "[day]\nleast_open_h = 12\n[night]\nleast_h = 11.96\n",
    ],
)
def test_what_only_looks_like_a_contradiction_is_taken(text):
    assert read_site(GOOD + text, "site.toml").warnings == ()


def test_an_unknown_key_is_named_at_every_level():
    tables = ["open", "close", "day", "night", "head_count"]
    tables += ["door", "calendar", "flock", "house", "run"]
    text = "zz = 1\n" + GOOD + "zz = 1\n"
    text += "".join(f"[{table}]\nzz = 1\n" for table in tables)
    text += f"{SPAN}zz = 1\n" + "".join(f"{table}.zz = 1\n" for table in tables[:5])
    keys = [line.split(": ")[1] for line in problems(text)]
    assert keys == [
        "zz = 1",
        *[f"{table}.zz = 1" for table in ("place", *tables)],
        "span 1 zz = 1",
        *[f"span 1 {table}.zz = 1" for table in tables[:5]],
    ]
    assert all("is not a key here; " in line for line in problems(text))


# --- Invisible characters ------------------------------------------------------------------------

HIDDEN = [
    *["\0", "\t", "\n", "\r", "\x1b", "\x7f", "\x85", "\x9b", "\u2028", "\u2029"],
    # Those that turn the reading direction.
    *["\u061c", "\u200e", "\u200f", "\u202a", "\u202e", "\u2066", "\u2069"],
    # Those that hide in a word.
    *["\xad", "\u200b", "\u2060", "\ufeff"],
]


@pytest.mark.parametrize("character", HIDDEN, ids=lambda c: f"U+{ord(c):04X}")
def test_invisible_characters_are_refused_in_every_text(character):
    written = f"\\u{ord(character):04x}"
    text = GOOD.replace("Test house", f"a{written}b") + f'{SPAN}reason = "c{written}d"\n'
    shown = "\N{REPLACEMENT CHARACTER}"
    end = f"take out the invisible character U+{ord(character):04X}"
    assert problems(text) == [
        f'line 2: name = "a{shown}b": {end}',
        f'line 10: span 1 reason = "c{shown}d": {end}',
    ]


@pytest.mark.parametrize(
    "character", [c for c in HIDDEN if c != "\n"], ids=lambda c: f"U+{ord(c):04X}"
)
def test_invisible_characters_are_refused_in_notes_but_for_line_ends(character):
    assert "take out the invisible character" in problem(
        f'notes = "a\\nb\\u{ord(character):04x}"\n{GOOD}'
    )


def test_keys_of_odd_characters_cannot_garble_a_message():
    text = '"" = 1\n"a\\nb\\u001b[31m" = 2\n"a.b" = 3\n' + GOOD
    assert [line.split(": is not")[0] for line in problems(text)] == [
        'line 1: "" = 1',
        'line 2: "a\N{REPLACEMENT CHARACTER}b\N{REPLACEMENT CHARACTER}[31m" = 2',
        'line 3: "a.b" = 3',
    ]


@pytest.mark.parametrize(
    "text", ["\u0645\u06cc\u200c\u062f\u0627", "\U0001f469\u200d\U0001f33e", "\u0600\u0661"]
)
def test_what_joins_letters_or_shows_is_taken(text):
    assert read_site(GOOD.replace("Test house", text), "site.toml").name == text


def test_texts_that_are_too_long_are_refused():
    text = GOOD.replace("Test house", "x" * 101) + f'{SPAN}reason = "{"y" * 201}"\n'
    assert problems(text) == [
        f'line 2: name = "{"x" * 56}...: is too long: at most 100',
        f'line 10: span 1 reason = "{"y" * 56}...: is too long: at most 200',
    ]


# --- Files that are no site file ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "x = = 3",
            "line 7: TOML: Invalid value; check quotes, brackets and that no key stands twice",
        ),
        ("[open]\n[open]", "line 8: TOML: Cannot declare ('open',) twice; check"),
        ("[open]\nlight = 1\nlight = 2", "line 9: TOML: Cannot overwrite a value; check"),
        ('x = "', "line 7: TOML: Unterminated string; check"),
        ("[plac\n\n", "line 7: TOML: Expected ']' at the end of a table declaration; "),
        ("x = \x01", "line 7: TOML: "),
        ("x = 2027-02-30", "line 7: x = 2027-02-30: write a date of the calendar, like 2027-01-31"),
        ("x = " + "9" * 5000, "TOML: "),
        ("x = " + "[" * 5000 + "]" * 5000, "TOML: is nested too deeply"),
    ],
)
def test_what_is_no_toml_is_said_with_its_line(text, message):
    assert problem(GOOD + text).startswith(message)


def test_what_cannot_be_read_is_said(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    end = ": name a site file, or write one with `daylatch new`"
    Path("folder").mkdir()
    Path("loop").symlink_to("loop")
    for path, why in {
        "missing.toml": "no such file or directory",
        "folder": "is a directory",
        "loop": "too many levels of symbolic links",
        "x" * 300: "file name too long",
    }.items():
        with pytest.raises(SiteError) as caught:
            load_site(path)
        assert str(caught.value) == f"{path}: site file: cannot be read ({why}){end}"


def test_a_file_that_may_not_be_read_is_said(tmp_path, monkeypatch):
    """An administrator may read any file, so the refusal is made here."""

    def refused(*arguments, **options):
        raise PermissionError(13, os.strerror(13))

    (tmp_path / "site.toml").write_text(GOOD)
    monkeypatch.setattr(Path, "open", refused)
    with pytest.raises(SiteError, match=r"cannot be read \(permission denied\): name a site file"):
        load_site(tmp_path / "site.toml")


def test_bytes_that_are_no_utf8_are_named_with_their_line(tmp_path):
    path = tmp_path / "site.toml"
    path.write_bytes(GOOD.encode() + b'[open]\n# caf\xe9\nlight = "civil"\n')
    with pytest.raises(SiteError) as caught:
        load_site(path)
    assert str(caught.value) == f"{path}, line 8: text: save the file as UTF-8"
    path.write_bytes(GOOD.encode("utf-16"))
    with pytest.raises(SiteError, match="line 1: text: save the file as UTF-8"):
        load_site(path)


def test_a_file_that_is_too_large_is_refused_and_never_read_to_its_end(tmp_path):
    path = tmp_path / "site.toml"
    path.write_bytes(GOOD.encode().ljust(LARGEST_BYTES, b"\n"))
    assert load_site(path).name == "Test house"
    path.write_bytes(GOOD.encode().ljust(LARGEST_BYTES + 1, b"\n"))
    for endless in (path, Path("/dev/zero")):
        with pytest.raises(SiteError, match=f"is over {LARGEST_BYTES} bytes"):
            load_site(endless)


def test_an_empty_file_is_missing_everything(tmp_path):
    (tmp_path / "site.toml").touch()
    with pytest.raises(SiteError, match="id: is missing"):
        load_site(tmp_path / "site.toml")


# --- Whatever the file holds -------------------------------------------------------------------

STARTER = starter_text(
    Start(
        ID, "Test house", 61.5, 23.76, "", "Europe/Helsinki", WallTime(330), WallTime(1350), 2027
    ),
    everything=True,
)
SWITCHED_ON = re.sub(r"^# ([a-z_0-9.]+ = |\[\[)", r"\1", STARTER, flags=re.M)
KEYS = sorted(
    {"id", "name", "notes", "shut", "reason", "fixed", "from", "until", "zz", "span", *TABLES}
    | {key for name in TABLES for key in table_model(name).model_fields}
)
scalars = st.one_of(
    st.sampled_from(
        [
            *["1", "-0", "95", "1e400", "nan", "-inf", "true", "2027-03-01", "06:30:00", '""'],
            *['"civil"', '"both"', '"06:30"', '"2027-03-01"', '"2027-02-30"', '"none"', "[]"],
            *['"utc"', f'"{ID}"', '"Europe/Oslo"', "[[]]", '["reasons"]', "{}", "[1, 2, 3]"],
            "2027-03-01T00:00:00Z",
        ]
    ),
    st.integers().map(str),
    st.floats().map(repr),
    st.text(max_size=8).map(lambda text: '"' + "".join(f"\\U{ord(c):08x}" for c in text) + '"'),
)
statements = st.one_of(
    st.builds("{} = {}".format, st.sampled_from(KEYS), scalars),
    st.builds("{}.{} = {}".format, st.sampled_from(KEYS), st.sampled_from(KEYS), scalars),
    st.builds("[{}]".format, st.sampled_from(KEYS)),
    st.builds("[[{}]]".format, st.sampled_from(["span", *KEYS])),
    st.builds("[{}.{}]".format, st.sampled_from(KEYS), st.sampled_from(KEYS)),
    st.builds("{} = {{ {} = {} }}".format, st.sampled_from(KEYS), st.sampled_from(KEYS), scalars),
)
documents = st.builds(
    lambda head, lines: head + "\n".join(lines),
    st.sampled_from(["", TOP, GOOD, GOOD + SPAN]),
    st.lists(statements, max_size=8),
)


@st.composite
def mutations(draw):
    """Return a good file with a few of its lines or characters changed."""
    text = draw(st.sampled_from([STARTER, SWITCHED_ON, RICH]))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        match draw(st.integers(0, 3)):
            case 0:
                text = text[:at] + text[at + draw(st.integers(1, 40)) :]
            case 1:
                text = text[:at] + draw(st.text(max_size=3)) + text[at:]
            case 2:
                lines = text.split("\n")
                lines.insert(draw(st.integers(0, len(lines))), draw(st.sampled_from(lines)))
                text = "\n".join(lines)
            case _:
                text = text[:at] + draw(scalars) + text[at:]
    return text


anything = st.one_of(
    documents.map(lambda text: text.encode("utf-8", "surrogatepass")),
    mutations().map(lambda text: text.encode("utf-8", "surrogatepass")),
    st.binary(max_size=200),
)
fuzz = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@settings(fuzz, max_examples=400)
@given(anything)
def test_any_file_is_a_site_or_a_list_of_slips(tmp_path, content):
    path = tmp_path / "site.toml"
    path.write_bytes(content)
    site, slips = None, []
    try:
        site = load_site(path)
    except SiteError as error:
        slips = error.problems
    if isinstance(site, Site):
        data = tomllib.loads(content.decode().removeprefix("\ufeff"))
        # Nothing was clamped.
        for key, value in (("latitude", site.latitude_deg), ("longitude", site.longitude_deg)):
            assert data["place"].get(key, value) == value
    else:
        assert slips
    for found in slips:
        assert found.key
        assert found.remedy
        assert found.line is None or 1 <= found.line <= content.count(b"\n") + 1
        assert "\n" not in found.sentence("site.toml")


@settings(fuzz, max_examples=25)
@given(st.one_of(mutations(), documents).map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_checking_any_file_ends_with_a_message(tmp_path, capsys, content):
    path = tmp_path / "site.toml"
    path.write_bytes(content)
    status = run(["check", str(path)])
    shown = capsys.readouterr()
    assert status in {0, 3, 4}
    assert "Traceback" not in shown.out + shown.err
    assert shown.err.strip() or status == 0


@pytest.mark.parametrize("zone", ["Mars/Base", "../etc/passwd", "none"])
def test_an_unknown_zone_is_told_once(zone):
    text = f'id = "{ID}"\nname = "x"\n[place]\nlatitude = 52.0\nlongitude = 5.0\nzone = "{zone}"\n'
    with pytest.raises(SiteError) as caught:
        read_site(text, "site.toml")
    assert len(caught.value.problems) == 1
    assert "no such zone" in str(caught.value)


# --- Numbers beyond all measure ------------------------------------------------------------------

KEYS = [
    f"{table}.{field.alias or key}".lstrip(".")
    for table, model in [
        ("", Head),
        *((table, table_model(table)) for table in TABLES),
        ("span.1", Span),
    ]
    for key, field in model.model_fields.items()
]
HUGE = [f"1{'0' * 400}", f"-1{'0' * 400}", f"0x1{'0' * 6000}", str(2**63), "1e308", "inf", "nan"]


@pytest.mark.parametrize("key", KEYS)
def test_a_huge_number_in_any_key_is_a_slip(key):
    """In hexadecimals TOML can hold a number that Python refuses to write in decimals."""
    for number in HUGE:
        with pytest.raises(SiteError) as caught:
            read_site(GOOD + SPAN, "site.toml", [f"{key}={number}"])
        assert max(map(len, caught.value.lines)) < 700
        with pytest.raises(SiteError):
            read_site(GOOD + SPAN, "site.toml", [f"{key}=[{number}]"])


@pytest.mark.parametrize(
    ("value", "remedy"),
    [
        ("4,0", "write a number with a point, like 4.5"),
        ("4 m2", "write the number alone: the name of the key says the unit"),
        ("40%  # of it", "write a share as a number, like 0.4 for 40 %"),
        ("6:30", 'write a time in quotes, like "06:30"'),
        ("1.5.2027", "write a date of the calendar, like 2027-01-31"),
        ("yes", "write true or false, in small letters"),
        ("True", "write true or false, in small letters"),
        ("timer", "write text in quotes"),
        ("\u201cx\u201d", 'use straight quotes: "..."'),
    ],
)
def test_a_value_that_people_write_and_toml_does_not_take_is_said_with_its_cure(value, remedy):
    shown = value.partition("#")[0].strip()
    assert problem(f"{GOOD}[house]\nfloor_m2 = {value}\n") == (
        f"line 8: floor_m2 = {shown}: {remedy}"
    )


def test_a_number_that_no_program_reads_is_said_in_plain_words():
    assert problem(f"id = 1{'0' * 5000}\n") == "TOML: a number is far too long"
