"""How wrong a clock may be: the physics by known figures, and ``daylatch drift`` as it is run."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
import shlex
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.cautions import CAUTION
from daylatch.door.drift import csv as drift_csv
from daylatch.door.drift import json as drift_json
from daylatch.door.drift import text as drift_text
from daylatch.door.drift.drift import make_drift
from daylatch.errors import PlanError, UsageError
from daylatch.site.timekeeping import Timekeeping
from peers.table_reader import read_table
from sites import UTRECHT, site

HOUSE = site(UTRECHT)
FIRST = dt.date(2027, 1, 1)
YEAR = ("drift", "--year", "2027")
HOSTILE = "=1+1 <script>alert(1)</script> & 's' $x^2$ [bold]b[/bold] \N{HATCHING CHICK}"


def drift(first=FIRST, last=dt.date(2027, 12, 31), **facts):
    return make_drift(HOUSE, Timekeeping(**facts), first, last)


def lost_and_gained(days, **facts):
    """Return by how much a clock that was set exactly may be slow and fast after some days [s]."""
    found = drift(set_error_s=0, set_on=FIRST, **facts)
    last = FIRST + dt.timedelta(days=days - 1)
    return found.slow_s(last), found.fast_s(last)


# A part in a million of a year of 365 days is 365 * 86400 / 10^6 = 31.536 s. The figures in minutes
# are those that follow for ±2 and ±20 ppm: 1.05 and 10.5 min a year.
@pytest.mark.parametrize(
    ("ppm", "said", "unit", "digits"), [(1, 31.5, 1, 1), (2, 1.05, 60, 2), (20, 10.5, 60, 1)]
)
def test_parts_in_a_million_of_a_year(ppm, said, unit, digits):
    lost, gained = lost_and_gained(365, accuracy_ppm=ppm)
    assert lost == gained
    assert round(lost / unit, digits) == said


def test_cold_slows_a_crystal_by_a_parabola():
    """Typical 32.768 kHz tuning-fork crystal data sheets (from memory): 25 °C, 0.035 ppm/°C².

    At -10 °C that is 42.9 ppm: some 1.9 min in a month, beside what the accuracy allows.
    """
    lost, gained = lost_and_gained(30, accuracy_ppm=20, coldest_c=-10)
    assert (lost - gained) == pytest.approx(0.035 * 35**2 * 30 * 0.0864)
    assert round((lost - gained) / 60, 1) == 1.9
    assert gained == pytest.approx(51.84)
    # Both together: 2.7 min in 30 days.
    assert round(lost / 60, 1) == 2.7


@pytest.mark.parametrize(
    ("given", "ppm"),
    [
        ({}, 0),
        ({"coldest_c": 25.0}, 0),
        ({"coldest_c": 15.0}, 3.5),
        ({"warmest_c": 35.0}, 3.5),
        ({"coldest_c": 5.0, "warmest_c": 35.0}, 14),
        ({"coldest_c": 15.0, "warmest_c": 45.0}, 14),
        ({"coldest_c": -20.0, "warmest_c": 0.0}, 0.035 * 45**2),
        ({"coldest_c": -20.0, "oscillator": "compensated"}, 0),
        ({"coldest_c": -20.0, "oscillator": "rc"}, 0),
    ],
)
def test_the_farthest_temperature_counts_and_only_for_a_plain_crystal(given, ppm):
    found = drift(accuracy_ppm=5, **given)
    assert found.slow_ppm - found.fast_ppm == pytest.approx(ppm)
    # No cold is counted on to hold back a fast clock.
    assert found.fast_ppm == 5


@settings(max_examples=200, deadline=None)
@given(
    st.floats(0.1, 200_000),
    st.none() | st.floats(-60, 80),
    st.integers(0, 300),
    st.integers(0, 120),
    st.integers(0, 900),
)
def test_the_day_to_set_it_is_the_last_one_within_the_margin(ppm, coldest, error, margin, ago):
    found = drift(
        accuracy_ppm=ppm,
        coldest_c=coldest,
        set_error_s=error,
        margin_min=margin,
        set_on=FIRST - dt.timedelta(days=ago),
    )
    for good, off_s in (
        (found.good_until, lambda day: max(found.slow_s(day), found.fast_s(day))),
        (found.fast_good_until, found.fast_s),
    ):
        behind = found.set_on if good is None else good + dt.timedelta(days=1)
        assert off_s(behind) > 60 * margin
        if good is not None:
            assert off_s(good) <= 60 * margin
            assert good >= found.set_on
    needed = found.needed_margin_min(found.last)
    worst = max(found.slow_s(found.last), found.fast_s(found.last))
    assert 60 * (needed - 1) < worst <= 60 * needed


def test_a_clock_that_hardly_drifts_stays_in_the_calendar():
    found = drift(accuracy_ppm=0.1, margin_min=120, set_error_s=0, set_on=dt.date(9000, 1, 1),
                  last=dt.date(9000, 1, 2), first=dt.date(9000, 1, 1))  # fmt: skip
    assert found.good_until == dt.date.max


@pytest.mark.parametrize(("ppm", "kind", "no_clock"), [
    (20, "crystal", False), (999, "crystal", False), (1000, "crystal", True),
    (500, "rc", True), (2, "compensated", False),
])  # fmt: skip
def test_an_oscillator_of_thousands_of_ppm_is_no_clock(ppm, kind, no_clock):
    found = drift(accuracy_ppm=ppm, oscillator=kind)
    assert found.is_no_clock == no_clock
    assert ("this is no clock" in drift_text.render(found).decode()) == no_clock


def test_it_is_looked_at_from_when_it_was_set():
    found = drift(accuracy_ppm=20, set_on=dt.date(2027, 5, 6))
    assert (found.set_on, found.first) == (dt.date(2027, 5, 6), dt.date(2027, 5, 6))
    found = drift(accuracy_ppm=20, set_on=dt.date(2026, 5, 6))
    assert (found.set_on, found.first) == (dt.date(2026, 5, 6), FIRST)
    assert drift(accuracy_ppm=20).set_on == FIRST
    with pytest.raises(UsageError, match="is set on 2028-01-01, and the dates end on 2027-12-31"):
        drift(accuracy_ppm=20, set_on=dt.date(2028, 1, 1))
    with pytest.raises(UsageError, match="add accuracy_ppm under"):
        drift()
    with pytest.raises(PlanError, match="has 3661 days, and 3660"):
        drift(accuracy_ppm=20, last=FIRST + dt.timedelta(days=3660))


FACTS = {"accuracy_ppm": 20, "coldest_c": -10, "set_on": dt.date(2026, 12, 30)}


def test_every_form_knows_its_own_files_and_carries_the_caution():
    found = drift(**FACTS)
    modules = (drift_text, drift_csv, drift_json)
    for module in modules:
        content = module.render(found)
        assert [other for other in modules if other.wrote(content)] == [module]
        assert CAUTION in " ".join(content.decode().split())


def test_csv_and_json_have_a_row_for_each_date():
    found = drift(**FACTS)
    rows = list(csv.DictReader(io.StringIO(drift_csv.render(found).decode(), newline="")))
    data = json.loads(drift_json.render(found))
    assert len(rows) == len(data["days"]) == 365
    assert data["set_again_by"] == rows[0]["set_again_by"] == str(found.good_until)
    for number, (row, day) in enumerate(zip(rows, data["days"], strict=True)):
        assert row["date"] == day["date"] == str(FIRST + dt.timedelta(days=number))
        days = 3 + number
        # 0.035 * 35**2 is 42.875; a day at 1 ppm is 0.0864 s.
        slow = 60 + Fraction("62.875") * Fraction("0.0864") * days
        fast = 60 + 20 * Fraction("0.0864") * days
        assert slow <= int(row["slow_at_most_s"]) < slow + 1
        assert fast <= int(row["fast_at_most_s"]) < fast + 1
        assert day["slow_at_most_s"] == int(row["slow_at_most_s"])
        assert day["fast_at_most_s"] == int(row["fast_at_most_s"])
        assert day["within_margin"] == (row["within_margin"] == "yes") == (slow <= 120)


def test_the_text_lists_months_and_the_day_to_set_it():
    found = drift(**FACTS)
    text = drift_text.render(found).decode()
    rows = re.findall(r"^(2027-\d\d-\d\d) +([\d.]+) +([\d.]+) *(.*)$", text, re.M)
    assert [row[0] for row in rows] == sorted(
        {str(dt.date(2027, month, 1)) for month in range(1, 13)}
        | {"2027-12-31", str(found.good_until)}
    )
    for date, slow, fast, note in rows:
        day = dt.date.fromisoformat(date)
        for said, off_s in ((slow, found.slow_s(day)), (fast, found.fast_s(day))):
            assert 0 <= 60 * float(said) - off_s < 6.001
        expected = "" if day < found.good_until else "margin used up"
        assert note == ("set it again" if day == found.good_until else expected)
    assert max(map(len, text.splitlines())) <= 80
    days = (found.good_until - found.set_on).days
    assert f"by {found.good_until}, and then every {days} days" in " ".join(text.split())


def test_a_date_that_has_passed_is_said_to_be_due():
    found = drift(accuracy_ppm=20, set_on=dt.date(2026, 9, 1))
    ago = (FIRST - found.good_until).days
    text = " ".join(drift_text.render(found).decode().split())
    assert f"that was due {ago} days before these dates" in text


def test_a_margin_that_cannot_be_kept_is_said_with_numbers():
    found = drift(accuracy_ppm=20, set_error_s=90, margin_min=1)
    text = " ".join(drift_text.render(found).decode().split())
    assert "the clock may already be 1.6 min wrong; set it more exactly, or allow more" in text
    assert "--clock-margin" not in text


def test_the_commands_that_it_prints_keep_the_margin(daylatch, alder_row, tmp_path):
    alder_row.write_text(
        alder_row.read_text() + "\n[clock]\naccuracy_ppm = 20\ncoldest_c = -10\nmargin_min = 12\n"
    )
    ran = daylatch(*YEAR)
    assert (ran.status, ran.err) == (0, "")
    lines = [shlex.split(line) for line in ran.out.splitlines() if line.startswith("  daylatch")]
    table, timer = lines
    assert table[1:] == (
        ["plan", "site.toml", "--to", "table", "--within", "24", "--clock-margin", "12"]
    )
    dates = ("--from", "2027-03-01", "--until", "2027-03-20")
    assert daylatch(*table[1:], *dates, "-o", "table.bin").status == 0
    assert daylatch("plan", *dates, "--to", "table", "-o", "exact.bin").status == 0
    ask, exact = (read_table((tmp_path / name).read_bytes()) for name in ("table.bin", "exact.bin"))
    day = dt.date(2027, 3, 10)
    assert all(a - b == 12 for a, b in zip(ask(day), exact(day), strict=True))
    assert timer[-4:] == ["--tolerance", "24", "--clock-margin", "12"]
    ran = daylatch(*timer[1:], *dates)
    assert ran.status == 0
    assert "good as long as the timer's clock is at most 12 min wrong" in " ".join(ran.out.split())


def test_options_replace_what_the_file_says(daylatch, alder_row):
    alder_row.write_text(
        alder_row.read_text() + "\n[clock]\naccuracy_ppm = 20\nset_on = 2026-12-01\n"
    )
    data = json.loads(daylatch(*YEAR, "--to", "json").out)
    assert data["timekeeping"]["set_on"] == "2026-12-01"
    ran = daylatch(
        *YEAR, "--to", "json", "--ppm", "2.5", "--oscillator", "compensated", "--coldest", "-10",
        "--warmest", "30", "--set-on", "2026-12-24", "--set-error", "5", "--margin", "3",
    )  # fmt: skip
    assert json.loads(ran.out)["timekeeping"] == {
        "accuracy_ppm": 2.5,
        "oscillator": "compensated",
        "coldest_c": -10,
        "warmest_c": 30,
        "set_on": "2026-12-24",
        "set_error_s": 5,
        "margin_min": 3,
        "slow_ppm": 2.5,
        "fast_ppm": 2.5,
        "is_no_clock": False,
    }


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ((), "the accuracy of the door's clock is not known: look for ppm in its data sheet"),
        (("--ppm", "0"), "--ppm is 0.0: must be at least 0.1"),
        (("--ppm", "-20"), "--ppm is -20.0: must be at least 0.1"),
        (("--ppm", "nan"), "--ppm is nan: write a finite number"),
        (("--ppm", "20", "--margin", "-1"), "--margin is -1: must be at least 0"),
        (("--ppm", "20", "--margin", "121"), "--margin is 121: must be at most 120"),
        (("--ppm", "20", "--set-error", "-5"), "--set-error is -5: must be at least 0"),
        (("--ppm", "20", "--coldest", "-99"), "--coldest is -99.0: must be at least -60"),
        (
            ("--ppm", "20", "--coldest", "30", "--warmest", "10"),
            "with these options, coldest_c (30) lies above warmest_c (10): swap them",
        ),
        (("--ppm", "20", "--oscillator", "quartz"), '--oscillator is "quartz": write one of'),
        (("--ppm", "20", "--set-on", "1.1.2027"), '--set-on is "1.1.2027": write a date'),
        (("--ppm", "20", "--set-on", "2028-01-01"), "the clock is set on 2028-01-01, and the"),
        (("--ppm", "20", "--to", "ics"), '--to is "ics": write one of text, csv, json'),
    ],
)
def test_what_it_cannot_take_is_one_message_and_no_file(daylatch, alder_row, options, message):
    ran = daylatch(*YEAR, *options, "-o", "drift.txt")
    assert ran.status == 2
    assert (ran.out, ran.err.count("\n")) == ("", 1)
    assert ran.err.startswith(f"daylatch: {message}")
    assert [path.name for path in alder_row.parent.iterdir()] == [alder_row.name]


def test_slips_in_the_file_are_named(daylatch, alder_row):
    alder_row.write_text(
        alder_row.read_text()
        + "\n[clock]\naccuracy_ppm = -2\ncoldest_c = 30\nwarmest_c = 2\nset_on = 5\n"
    )
    ran = daylatch(*YEAR, "-o", "drift.csv")
    assert ran.status == 3
    assert "clock.accuracy_ppm = -2: must be at least 0.1" in ran.err
    assert "clock.set_on = 5: write a date" in ran.err
    assert "coldest_c (30) lies above warmest_c (2): swap them" in ran.err
    assert not (alder_row.parent / "drift.csv").exists()


def test_files_of_others_are_left_alone(daylatch, alder_row, tmp_path):
    for name in ("d.txt", "d.csv", "d.json"):
        assert daylatch(*YEAR, "--ppm", "20", "-o", name).status == 0
        assert "already up to date" in daylatch(*YEAR, "--ppm", "20", "-o", name).err
        (tmp_path / name).write_text("mine\n")
        assert daylatch(*YEAR, "--ppm", "20", "-o", name).status == 6
        assert (tmp_path / name).read_text() == "mine\n"


def test_a_csv_of_no_clock_warns_beside_it(daylatch, alder_row):
    ran = daylatch(*YEAR, "--ppm", "10000", "--oscillator", "rc", "--to", "csv")
    assert ran.status == 0
    assert ran.err.startswith("warning: this is no clock: at 10000 ppm it may be 14.4 min wrong")


def test_a_hostile_name_stays_text():
    found = make_drift(
        site(UTRECHT, name=HOSTILE), Timekeeping(accuracy_ppm=20), FIRST, dt.date(2027, 1, 9)
    )
    assert HOSTILE in drift_text.render(found).decode().splitlines()
    assert json.loads(drift_json.render(found))["site"]["name"] == HOSTILE
