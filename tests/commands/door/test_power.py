"""``daylatch power`` as a keeper runs it, and its sentence in check, on the card, in the report."""

from __future__ import annotations

import csv
import io
import json
import shutil
import time
from pathlib import Path

import pytest

from daylatch.cautions import CAUTION, POWER_CAUTION
from sites import FALLBACKS, HOUSE

LOAD = "[load]\nvoltage_v = 12\ncurrent_a = 0.6\nmovement_s = 20\nstandby_ma = 3\n"
BATTERY = '[battery]\nkind = "lead"\ncapacity_wh = 84\n'
LEVEL = "horizontal_kwh_m2_day = [0.6, 1.2, 2.5, 4.0, 5.0, 5.3, 5.1, 4.3, 3.0, 1.7, 0.8, 0.5]\n"
PANEL = f"[panel]\nwatts = 5\ntilt = 60\n{LEVEL}"
WHOLE = FALLBACKS + PANEL + BATTERY + LOAD
YEAR = ("power", "--from", "2026-11-27", "--until", "2027-11-26")
TYPICAL_YEAR = Path(__file__).resolve().parents[2] / "door/power/data/typical_year_45N_8E.csv"
NEAR = HOUSE.replace("52.1", "45.0").replace("5.2", "8.0").replace("Amsterdam", "Rome")


@pytest.fixture
def house(tmp_path):
    """Return a function that writes a site file with further tables."""

    def write(settings, head=HOUSE):
        (tmp_path / "site.toml").write_text(head + settings)

    return write


def test_it_prints_the_answer_first(daylatch, house):
    house(WHOLE)
    ran = daylatch(*YEAR)
    assert (ran.status, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert lines[0] == "daylatch power"
    assert lines[4].startswith("The battery holds through these dates")
    words = " ".join(ran.out.split())
    assert CAUTION in words
    assert POWER_CAUTION in words


@pytest.mark.parametrize("form", ["text", "csv", "json", "svg", "png", "pdf"])
def test_every_form_can_be_written_again_and_is_its_own(daylatch, house, tmp_path, form):
    house(WHOLE)
    ending = "txt" if form == "text" else form
    for words in ("wrote", "already up to date"):
        ran = daylatch(*YEAR, "-o", f"power.{ending}")
        assert ran.status == 0, ran.err
        assert words in ran.err or form in ("png", "pdf")
    (tmp_path / f"theirs.{ending}").write_text("not ours")
    assert daylatch(*YEAR, "-o", f"theirs.{ending}").status == 6
    assert (tmp_path / f"theirs.{ending}").read_text() == "not ours"


def test_a_file_of_light_lies_beside_the_site_file(daylatch, house, tmp_path):
    (tmp_path / "light").mkdir()
    shutil.copy(TYPICAL_YEAR, tmp_path / "light/year.csv")
    house(
        f'{FALLBACKS}[panel]\nwatts = 5\ntilt = 60\nlight_file = "light/year.csv"\n{BATTERY}{LOAD}',
        NEAR,
    )
    ran = daylatch(*YEAR, "--to", "json")
    assert (ran.status, ran.err) == (0, "")
    assert json.loads(ran.out)["light"] == "typical year"


def test_a_file_of_another_place_is_warned_of(daylatch, house, tmp_path):
    shutil.copy(TYPICAL_YEAR, tmp_path / "year.csv")
    house(
        f'{FALLBACKS}[panel]\nwatts = 5\ntilt = 60\nlight_file = "year.csv"\n{BATTERY}{LOAD}',
        NEAR.replace("45.0", "45.8"),
    )
    ran = daylatch(*YEAR)
    assert ran.status == 0
    assert 'panel.light_file = "year.csv": is for 45 N 8 E, and this house is elsewhere' in ran.err


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "cannot be read (no such file or directory): name a file of light"),
        (b"", "is in no form that is known here"),
        (b"\xff\xfe\x00 time(UTC)", "is in no form that is known here"),
        (b"time(UTC),T2m,G(h),Gb(n),Gd(h)\n", "holds 0 hours"),
        (TYPICAL_YEAR.read_bytes().replace(b",1.85,", b",hot,"), 'T2m is "hot"'),
    ],
)
def test_a_file_of_light_that_cannot_be_used_is_one_message(
    daylatch, house, tmp_path, content, said
):
    if content is not None:
        (tmp_path / "year.csv").write_bytes(content)
    house(f'{FALLBACKS}[panel]\nwatts = 5\ntilt = 60\nlight_file = "year.csv"\n{BATTERY}{LOAD}')
    ran = daylatch(*YEAR)
    assert (ran.status, ran.out) == (3, "")
    assert ran.err.count("\n") == 1
    assert ran.err.startswith('daylatch: site.toml, line 14: panel.light_file = "year.csv": ')
    assert said in ran.err


def test_lithium_wants_to_know_of_frost(daylatch, house):
    lithium = BATTERY.replace("lead", "lithium ion")
    house(FALLBACKS + PANEL + lithium + LOAD)
    ran = daylatch(*YEAR)
    assert (ran.status, ran.out) == (3, "")
    assert "battery.temperature_c: is missing: a lithium-ion battery must not be charged" in ran.err
    house(FALLBACKS + PANEL.replace("watts = 5\n", "") + lithium + LOAD)
    assert "battery.temperature_c: is missing" in daylatch(*YEAR).err
    house(FALLBACKS + PANEL + lithium + f"temperature_c = {[5] * 12}\n" + LOAD)
    assert daylatch(*YEAR).status == 0


BAD_LIGHT = {
    "a line without end": b"x" * 200_000,
    "an offset": TYPICAL_YEAR.read_bytes().replace(b"Offset (h): 0.1761", b"Offset (h): 9e99"),
    "a comma": TYPICAL_YEAR.read_bytes().replace(b"Offset (h): 0.1761", b"Offset (h): 0,75"),
    "hours off": TYPICAL_YEAR.read_bytes().replace(b"Offset (h): 0.1761", b"Offset (h): 12"),
    "none": None,
}


@pytest.mark.parametrize("name", BAD_LIGHT)
def test_a_bad_file_of_light_keeps_nothing_else_back(daylatch, house, tmp_path, name):
    house(f'{FALLBACKS}[panel]\nwatts = 5\ntilt = 60\nlight_file = "q.csv"\n{BATTERY}{LOAD}', NEAR)
    if BAD_LIGHT[name] is not None:
        (tmp_path / "q.csv").write_bytes(BAD_LIGHT[name])
    ran = daylatch(*YEAR)
    assert (ran.status, ran.out) == (3, "")
    for command in (("check",), ("card", "-o", "c.html"), ("report", "-o", "r.html")):
        beside = daylatch(*command)
        assert beside.status == 0, (name, command, beside.err)


def test_without_dates_it_begins_in_the_summer_before(daylatch, house, set_clock):
    house(WHOLE)
    for today, begin in (
        ("2026-11-27T12:00:00", "2026-06-01"),
        ("2027-02-10T12:00:00", "2026-06-01"),
        ("2027-04-10T12:00:00", "2027-04-10"),
        ("2027-07-10T12:00:00", "2027-06-01"),
    ):
        set_clock(today)
        ran = daylatch("power", "--to", "json")
        assert json.loads(ran.out)["from"] == begin
    house(BATTERY + LOAD)
    assert json.loads(daylatch("power", "--to", "json").out)["from"] == "2027-07-10"


@pytest.mark.parametrize("form", ["svg", "png", "pdf", "text"])
def test_a_door_that_draws_nothing_is_drawn(daylatch, house, form):
    shut = "[[span]]\nfrom = 2027-01-01\nuntil = 2027-01-31\nshut = true\n"
    house(FALLBACKS + BATTERY + LOAD.replace("standby_ma = 3", "standby_ma = 0") + shut)
    dates = ("--from", "2027-01-01", "--until", "2027-01-31")
    ran = daylatch("power", *dates, *(() if form == "text" else ("-o", f"p.{form}")))
    assert ran.status == 0, ran.err
    assert "1e-" not in ran.out


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ("", ["load: is missing: add [load]", "battery: is missing: add [battery]"]),
        (PANEL + BATTERY, ["load: is missing"]),
        ("[battery]\nlow_v = 11.8\n" + LOAD, ["battery.capacity_wh: is missing"]),
        (
            BATTERY + "[load]\nvoltage_v = 12\n",
            ["load.current_a: is", "load.movement_s: is", "load.standby_ma: is missing"],
        ),
        (WHOLE.replace("tilt = 60\n", ""), ["panel.tilt: is missing"]),
        (
            WHOLE.replace("5.3, 5.1", "19.1, 18.4"),
            ["panel.horizontal_kwh_m2_day = 18.4 in July: a cloudless sky gives", "is 5.11; if in"],
        ),
        (
            PANEL + '[battery]\nkind = "alkaline"\ncells = 4\ncell = "AA"\n' + LOAD,
            ["must never be charged"],
        ),
    ],
)
def test_what_is_missing_or_wrong_is_said_with_its_remedy(daylatch, house, settings, said):
    house(settings if settings.startswith("[open]") else FALLBACKS + settings)
    ran = daylatch(*YEAR)
    assert (ran.status, ran.out) == (3, "")
    assert len(ran.err.splitlines()) == len(said) or "July" in ran.err
    for words in said:
        assert words in ran.err


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (
            "cut_off = 20",
            "battery.cut_off = 20: is a share of full, so it is under 1: write 0.2 for 20 %; a",
        ),
        ("cut_off = 1.2", "battery.cut_off = 1.2: is a share of full"),
        ("cut_off = 1.0", "battery.cut_off = 1.0: must be less than 1"),
        ("cut_off = -0.1", "battery.cut_off = -0.1: must be at least 0"),
        ("charge_efficiency = 85", "write 0.85 for 85 %"),
        ("temperature_c = [1, 2]", "write 12 numbers, from January to December; here are 2"),
        ('kind = "lead"\ncells = 4\ncell = "AA"', "cells say what it holds twice"),
        ('kind = "potato"', "write one of 'lead', 'lithium iron phosphate'"),
    ],
)
def test_what_no_battery_can_be_is_refused(daylatch, house, line, said):
    battery = BATTERY if "kind" not in line else "[battery]\ncapacity_wh = 84\n"
    house(f"{FALLBACKS}{battery}{line}\n{LOAD}")
    ran = daylatch(*YEAR)
    assert (ran.status, ran.out) == (3, "")
    assert said in ran.err


def test_two_tables_of_light_are_one_too_many(daylatch, house):
    house(WHOLE.replace(LEVEL, LEVEL + LEVEL.replace("horizontal", "plane")))
    ran = daylatch(*YEAR)
    assert ran.status == 3
    assert "plane_kwh_m2_day and horizontal_kwh_m2_day say the light twice" in ran.err


def test_a_panel_that_faces_away_is_warned_of_and_reckoned_with(daylatch, house):
    house(WHOLE.replace("tilt = 60\n", "tilt = 60\nazimuth = 0\n"))
    ran = daylatch(*YEAR)
    assert ran.status == 0
    assert "panel.azimuth = 0: faces away from the Sun" in ran.err
    assert "counted from south, add 180" in ran.err
    assert "facing 0° from north" in " ".join(ran.out.split())


def test_a_skyline_shades_the_panel(daylatch, house):
    hills = "[skyline]\nazimuth = [0, 90, 180, 270]\nelevation = [5, 15, 18, 15]\n"
    found = []
    for settings in (WHOLE, WHOLE + hills):
        house(settings)
        found.append(json.loads(daylatch(*YEAR, "--to", "json").out)["months"])
    for bare, shaded in zip(*found, strict=True):
        assert shaded["plane_kwh_m2_day"] < bare["plane_kwh_m2_day"]


def test_voltages_of_the_diary_within_the_dates_are_shown(daylatch, house):
    house(WHOLE)
    for at, volts in (("2026-11-20", 13.1), ("2026-12-24", 12.3), ("2027-01-06", 11.9)):
        assert daylatch("diary", "add", f"battery {volts} V", "--at", f"{at}T08:00Z").status == 0
    data = json.loads(daylatch(*YEAR, "--to", "json").out)
    assert [one["volts"] for one in data["seen"]] == [12.3, 11.9]
    assert "the lowest 11.9 V" in daylatch(*YEAR).out
    assert daylatch(*YEAR, "-o", "power.svg").status == 0


def test_a_table_of_the_watch_alone_is_still_good(daylatch, house):
    house(f"{FALLBACKS}[battery]\nlow_v = 11.8\n")
    ran = daylatch("check")
    assert ran.status == 0
    assert "Low below 11.8 V" in ran.out
    assert "\nPower" not in ran.out


def test_check_the_card_and_the_report_have_its_sentence(daylatch, house, tmp_path):
    house(WHOLE)
    check = daylatch("check")
    assert check.status == 0
    assert "Power               The battery holds through a year" in check.out
    for command, file in (("card", "card.html"), ("report", "report.html")):
        ran = daylatch(command, "--year", "2027", "-o", file)
        assert ran.status == 0, ran.err
        page = (tmp_path / file).read_text()
        assert "The battery holds through" in page
    assert daylatch("card", "--year", "2027", "-o", "card.pdf").status == 0


def test_its_sentence_knows_what_autumn_left(daylatch, house, set_clock):
    set_clock("2027-01-01T12:00:00")
    tight = WHOLE.replace("standby_ma = 3", "standby_ma = 8")
    said = {}
    for settings in (tight, tight.replace("84\n", "84\nstarts = 1.0\n")):
        house(settings)
        words = " ".join(daylatch("check").out.split())
        said["starts" in settings] = words.partition(" Power ")[2][:100]
    # By the summer before it stops in December; full on New Year's Day it would hold out longer.
    assert "The door stops on 2026-12-" in said[False]
    assert "The door stops on 2027-12-" in said[True]


def test_a_full_battery_in_midwinter_is_doubted(daylatch, house):
    house(WHOLE)
    doubt = "the battery is taken to be full on 2027-01-01, in the dark season"
    assert doubt in " ".join(daylatch("power", "--year", "2027").out.split())
    assert doubt not in " ".join(daylatch("power", "--from", "2027-07-01").out.split())


def test_trouble_with_power_is_a_warning_in_check(daylatch, house):
    house(WHOLE.replace("tilt = 60\n", ""))
    ran = daylatch("check")
    assert ran.status == 0
    assert "panel.tilt: is missing" in ran.err
    assert "\nPower  " not in ran.out.partition("can be made:")[2]


def test_a_cloudless_sky_is_said_to_be_a_bound(daylatch, house):
    house(WHOLE.replace(LEVEL, ""))
    assert "an upper bound" in " ".join(daylatch(*YEAR).out.split())
    assert "by a cloudless sky, an upper bound" in " ".join(daylatch("check").out.split())


def test_csv_has_a_row_a_date(daylatch, house):
    house(WHOLE)
    rows = list(csv.DictReader(io.StringIO(daylatch(*YEAR, "--to", "csv").out)))
    assert (rows[0]["date"], rows[-1]["date"], len(rows)) == ("2026-11-27", "2027-11-26", 365)


def test_a_picture_of_too_many_years_is_refused(daylatch, house):
    house(WHOLE)
    ran = daylatch("power", "--from", "2027-01-01", "--until", "2036-12-31", "-o", "long.svg")
    assert ran.status == 2
    assert "too many for one picture" in ran.err


def test_a_year_takes_no_time_to_speak_of(daylatch, house, record_property):
    house(WHOLE)
    daylatch(*YEAR)
    took, plan = [], []
    for _ in range(3):
        for command, times in (("power", took), ("plan", plan)):
            start = time.process_time()
            daylatch(command, *YEAR[1:])
            times.append(time.process_time() - start)
    beside = min(took) - min(plan)
    record_property("measured", f"power of a year: {1000 * beside:.0f} ms beside its plan")
    assert beside < 0.5
