"""The list for a lamp's timer: never less light than planned, read back from its text."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re

import icalendar
import numpy as np
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.birds.daylength.daylength import make_day_lengths
from daylatch.birds.daylength.lamp import lamp_burns
from daylatch.birds.lamp_list import csv as lamp_csv
from daylatch.birds.lamp_list import json as lamp_json
from daylatch.birds.lamp_list import text as lamp_text
from daylatch.birds.lamp_list.lamp_list import NoBurnError, make_lamp_list
from daylatch.calendars import lamp as burns_calendar
from daylatch.calendars import lamp_timer as lamp_calendar
from daylatch.calendars import timer as door_calendar
from daylatch.cautions import CAUTION, LAMP_CAUTION
from daylatch.door.timer import csv as door_csv
from daylatch.door.timer import json as door_json
from daylatch.door.timer import text as door_text
from daylatch.errors import PlanError
from daylatch.files.occasion import Occasion
from daylatch.paper.pages import lamp_timer_html, timer_html
from daylatch.plan.plan import make_plan
from daylatch.site.timer import Timer
from peers.browser import needs_chromium, opened
from sites import FALLBACKS, ID, NY_ALESUND, SINGAPORE, UTRECHT, Spot, site

STAMP = dt.datetime(2026, 12, 1, tzinfo=dt.UTC)
OCCASION = Occasion(STAMP)
MINUTE = np.timedelta64(1, "m")
DARK = 'dark_fallback = "10:00"\n[close]\nfallback = "22:30"\ndark_fallback = "13:00"\n'
POLAR = f'[open]\nfallback = "05:30"\n{DARK}'
FORMS = (lamp_text, lamp_csv, lamp_json, lamp_calendar, lamp_timer_html)
OTHERS = (door_text, door_csv, door_json, door_calendar, timer_html, burns_calendar)
SYDNEY = Spot(-36.9, 149.9, "Australia/Sydney")
ITEM = re.compile(r"[( ](\d\d):(\d\d)\)?([<>]?)")
SHIFT = {"": 0, ">": 1440, "<": -1440}


def listed(laying, keys="", spot=UTRECHT, dates=("2027-01-01", "2027-12-31"), more=FALLBACKS):
    plan = lit_plan(laying, keys, spot, dates, more)
    return make_lamp_list(plan, plan.site.settings.laying.timer or Timer())


def lit_plan(laying, keys, spot, dates=("2027-01-01", "2027-12-31"), more=FALLBACKS):
    house = site(spot, f"{more}[laying]\n{laying}[laying.timer]\n{keys}")
    return make_plan(house, *map(dt.date.fromisoformat, dates))


def rows_of(text):
    """Return the list's rows by burn, read from its text alone: from a date, on and off, or None.

    Times count in minutes from the midnight of their date.
    """
    found, burn = {}, None
    for line in text.splitlines():
        head = re.fullmatch(r"(Morning|Evening) burn", line)
        if head:
            burn = found.setdefault(head[1].lower(), [])
        row = re.match(r"\w{3} (\d{4}-\d\d-\d\d) (.*)", line)
        if not row or burn is None:
            continue
        times = ITEM.findall(row[2])
        assert len(times) == 2 or "no burn: switch this program off" in line
        burn.append(
            (
                dt.date.fromisoformat(row[1]),
                tuple(int(h) * 60 + int(m) + SHIFT[mark] for h, m, mark in times) or None,
            )
        )
    return found


def shown(plan, rows):
    """Return when a timer with such rows, on the wall clock, is on and off on a plan's dates."""
    sides = np.full((2, len(plan)), np.datetime64("NaT", "m"))
    for index, date in enumerate(plan.dates.tolist()):
        (*_, times) = [times for first, times in rows if first <= date]
        if times is not None:
            sides[:, index] = plan.dates[index] + np.array(times) * MINUTE
    return sides


@st.composite
def wishes(draw):
    side = draw(st.sampled_from(["morning", "evening", "both"]))
    laying = f'lamp = "{side}"\nwanted_h = {draw(st.sampled_from([13.0, 14.0, 15.5]))}\n'
    if draw(st.booleans()):
        laying += f"lamp_from = 2027-{draw(st.sampled_from(['02-10', '11-05']))}\n"
    keys = f"step_min = {draw(st.sampled_from([1, 5, 15]))}\n"
    keys += draw(st.sampled_from(["tolerance_min = 30\n", "changes = 30\n"]))
    keys += draw(st.sampled_from(["", 'on = ["saturday"]\n'])) if "changes" in keys else ""
    keys += draw(st.sampled_from(["", "together = false\n"]))
    return laying, keys, draw(st.sampled_from([UTRECHT, SYDNEY, SINGAPORE]))


@settings(max_examples=8, deadline=None)
@given(wishes())
def test_read_from_its_text_the_lamp_is_never_on_later_nor_off_earlier(wish):
    laying, keys, spot = wish
    try:
        found = listed(laying, keys, spot)
    except NoBurnError:
        # In the south a lamp from November on is not needed before the next year.
        never = lamp_burns(make_day_lengths(lit_plan(laying, keys, spot)))
        assert np.isnat(never.on_utc).all()
        return
    except PlanError as error:
        # No timer can change in the hour in which the wall clock does.
        if "the wall clock changes on 2027-" not in str(error):
            raise
        return
    plan = found.plan
    rows = rows_of(lamp_text.render(found, OCCASION).decode())
    burns = lamp_burns(make_day_lengths(plan))
    assert set(rows) == {burn.name for burn, _ in found.burns}
    for number, name in enumerate(("morning", "evening")):
        on, off = burns.on_utc[number], burns.off_utc[number]
        if name not in rows:
            assert np.isnat(on).all()
            continue
        timer = shown(plan, rows[name])
        # It is off exactly on the dates without that burn: no setting spans others.
        np.testing.assert_array_equal(np.isnat(timer[0]), np.isnat(on))
        lit = ~np.isnat(on)
        early = (plan.on_wall(on).wall - timer[0])[lit]
        late = (timer[1] - plan.on_wall(off).wall)[lit]
        assert (early >= 0 * MINUTE).all()
        assert (late >= 0 * MINUTE).all()
        if "tolerance_min" in keys:
            assert max(early.max(), late.max()) <= 30 * MINUTE
        (one,) = (one for burn, one in found.burns if burn.name == name)
        # What the list says of itself: by the wall clock, but where a time is shown twice.
        changed = plan.has_clock_change[lit]
        assert early[~changed].max() <= one.worst_min[0] * MINUTE
        assert late[~changed].max() <= one.worst_min[1] * MINUTE


def test_two_burns_have_lists_of_their_own():
    found = listed('lamp = "both"\n', "tolerance_min = 25\n")
    assert [burn.name for burn, _ in found.burns] == ["morning", "evening"]
    text = lamp_text.render(found, OCCASION).decode()
    assert max(map(len, text.splitlines())) <= 80
    rows = rows_of(text)
    assert all(times is None or times[1] > 12 * 60 for _, times in rows["evening"])
    assert all(times is None or times[0] < 12 * 60 for _, times in rows["morning"])
    # What holds for both is said once.
    assert text.count("Power cut") == 1
    assert "morning: " in text


def test_where_the_day_goes_one_burn_takes_over_and_the_others_program_is_off():
    found = listed('lamp = "morning"\n', "tolerance_min = 60\n", NY_ALESUND, more=POLAR)
    rows = rows_of(lamp_text.render(found, OCCASION).decode())
    plan = found.plan
    burns = lamp_burns(make_day_lengths(plan))
    evening = ~np.isnat(burns.on_utc[1])
    # Around the polar night alone, on some dates.
    assert 0 < evening.sum() < 60
    assert [date for date, times in rows["evening"] if times is None]
    timer = shown(plan, rows["evening"])
    np.testing.assert_array_equal(~np.isnat(timer[0]), evening)


def test_a_date_has_its_setting_whatever_range_is_asked_for():
    laying, keys = 'lamp = "morning"\nlamp_until = 2028-02-28\n', "tolerance_min = 20\n"
    whole = listed(laying, keys, dates=("2027-10-01", "2029-03-31"))
    times = {}
    for dates in (("2027-10-01", "2027-12-31"), ("2027-12-20", "2028-03-10"), ("2028-02-01",) * 2):
        part = listed(laying, keys, dates=dates)
        rows = rows_of(lamp_text.render(part, OCCASION).decode())["morning"]
        for index, date in enumerate(part.plan.dates.tolist()):
            times.setdefault(date, set()).add(str(shown(part.plan, rows)[:, index]))
    rows = rows_of(lamp_text.render(whole, OCCASION).decode())["morning"]
    sides = shown(whole.plan, rows)
    for index, date in enumerate(whole.plan.dates.tolist()):
        if date in times:
            assert times[date] == {str(sides[:, index])}, date
    # 2029 has no burn at all: one setting, off.
    assert np.isnat(sides[:, whole.plan.dates >= np.datetime64("2028-03-01")]).all()


def test_every_form_knows_its_own_files_and_takes_no_other_for_its_own():
    found = listed('lamp = "both"\n', "tolerance_min = 30\nstep_min = 5\n")
    for module in FORMS:
        content = module.render(found, OCCASION)
        assert [other for other in (*FORMS, *OTHERS) if other.wrote(content)] == [module]
        if module is lamp_calendar:
            text = str(icalendar.Calendar.from_ical(content)["DESCRIPTION"])
        else:
            text = " ".join(content.decode().replace("&#39;", "'").split())
        assert CAUTION in text
        assert LAMP_CAUTION in text
        assert "the wall clock of Europe/Amsterdam" in text


def test_csv_json_page_and_calendar_tell_what_the_text_does():
    found = listed('lamp = "both"\n', "tolerance_min = 30\nstep_min = 5\n")
    rows = rows_of(lamp_text.render(found, OCCASION).decode())

    def minutes(text, day):
        hours, rest = text.split(":")
        return int(hours) * 60 + int(rest) + 1440 * int(day)

    table = csv.DictReader(io.StringIO(lamp_csv.render(found, OCCASION).decode(), newline=""))
    by_csv = {"morning": [], "evening": []}
    for row in table:
        times = row["timer"] == "on" and tuple(
            minutes(row[side], row[f"{side}_day"]) for side in ("on", "off")
        )
        by_csv[row["burn"]].append((dt.date.fromisoformat(row["from"]), times or None))
    assert by_csv == rows
    data = json.loads(lamp_json.render(found, OCCASION))
    for name, settings_ in rows.items():
        by_json = []
        for one in data[name]:
            (program,) = one["programs"] or (None,)
            times = program and tuple(
                minutes(program[side], program[f"{side}_day"]) for side in ("on", "off")
            )
            by_json.append((dt.date.fromisoformat(one["from"]), times))
        assert by_json == settings_
        assert data["burns"][name]["summary"]["on_early_at_worst_min"] <= 90
    page = lamp_timer_html.render(found, OCCASION).decode()
    assert "Morning burn</caption>" in page
    assert "Evening burn</caption>" in page
    for settings_ in rows.values():
        for _, times in settings_:
            for time in times or ():
                assert f"{time // 60 % 24:02}:{time % 60:02}" in page
    calendar = icalendar.Calendar.from_ical(lamp_calendar.render(found, OCCASION))
    events = list(calendar.walk("VEVENT"))
    assert len(events) == sum(map(len, rows.values()))
    assert len({str(event["UID"]) for event in events}) == len(events)
    # Nobody changes a program while a burn is on.
    plan = found.plan
    burns = lamp_burns(make_day_lengths(plan))
    for event in events:
        start = np.datetime64(event["DTSTART"].dt.astimezone(dt.UTC).replace(tzinfo=None), "m")
        for on, off in zip(burns.on_utc, burns.off_utc, strict=True):
            assert not ((on <= start) & (start < off)).any()


def test_a_lamp_that_burns_on_no_date_has_no_list():
    with pytest.raises(NoBurnError, match="does not burn on any day from 2027-06-01"):
        listed('lamp = "morning"\n', dates=("2027-06-01", "2027-06-30"))


def test_a_timer_with_too_few_programs_is_refused():
    with pytest.raises(PlanError, match="takes 4 programs, and programs = 2 under"):
        listed('lamp = "morning"\n', "programs = 2\ntolerance_min = 60\n", NY_ALESUND, more=POLAR)


@needs_chromium
@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("side", ["morning", "both"])
def test_the_page_prints_on_one_sheet_and_fetches_nothing(side, paper, tmp_path):
    found = listed(f'lamp = "{side}"\n', "tolerance_min = 20\n")
    path = tmp_path / "lamp.html"
    path.write_bytes(lamp_timer_html.render(found, OCCASION))
    with opened(path) as page:
        pdf = page.pdf(format=paper)
        assert page.title() == "Test house: lamp timer settings, 2027-01-01 to 2027-12-31"
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == 1
    text = document[0].get_textpage().get_text_bounded()
    words = " ".join(text.replace("\ufffe", "-").split())
    assert "residual-current device (in the US a ground-fault circuit interrupter, GFCI)" in words
    document.close()


# --- The command ------------------------------------------------------------------------------

HOUSE = (
    f'id = "{ID}"\nname = "Invented house"\n[place]\nlatitude = 52.09\nlongitude = 5.12\n'
    'zone = "Europe/Amsterdam"\n'
)
YEAR = ("--year", "2027")


@pytest.mark.parametrize(
    ("laying", "dates", "said"),
    [
        ("", YEAR, 'house.toml: laying.lamp: no lamp is asked for: write lamp = "morning"'),
        (
            '[laying]\nwanted_h = 14\nlamp = "none"\n',
            YEAR,
            'house.toml, line 9: laying.lamp = "none": no lamp is asked for',
        ),
        (
            '[laying]\nlamp = "morning"\n',
            ("--from", "2027-06-01", "--until", "2027-06-30"),
            'house.toml, line 8: laying.lamp = "morning": the lamp does not burn on any day',
        ),
    ],
)
def test_a_lamp_list_without_dates_is_one_error_and_writes_nothing(
    daylatch, tmp_path, laying, dates, said
):
    (tmp_path / "house.toml").write_text(HOUSE + laying)
    for form in ("list.txt", "list.csv", "list.json", "list.ics", "list.html"):
        ran = daylatch("settings", "house.toml", "--lamp", *dates, "-o", form)
        assert ran.status
        assert said in " ".join(ran.err.split())
        assert not (tmp_path / form).exists()


def test_a_lamps_list_never_takes_the_place_of_the_doors(daylatch, tmp_path):
    (tmp_path / "house.toml").write_text(f'{HOUSE}[laying]\nlamp = "morning"\n[laying.timer]\n')
    for ending in ("txt", "csv", "json", "ics"):
        name = f"list.{ending}"
        assert daylatch("settings", "house.toml", *YEAR, "-o", name).status == 0
        door = (tmp_path / name).read_bytes()
        assert daylatch("settings", "house.toml", "--lamp", *YEAR, "-o", name).status
        assert (tmp_path / name).read_bytes() == door


def test_what_is_tried_out_says_so(daylatch, tmp_path):
    (tmp_path / "house.toml").write_text(
        f'{HOUSE}[laying]\nlamp = "morning"\n[laying.timer]\ntolerance_min = 20\n'
    )
    meant = daylatch("settings", "house.toml", "--lamp", *YEAR)
    assert "Tried out" not in meant.out
    tried = daylatch("settings", "house.toml", "--lamp", *YEAR, "--tolerance", "40")
    said = " ".join(tried.out.split())
    assert "Tried out: the site file says otherwise." in said
    assert "tolerance_min = 40 under [laying.timer]" in said
