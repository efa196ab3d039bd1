"""Day length and lamp as text, CSV, JSON and iCalendar, and the command that writes them."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from itertools import pairwise
from pathlib import Path

import icalendar
import numpy as np
import pytest
import recurring_ical_events
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.birds.daylength import csv as daylength_csv
from daylatch.birds.daylength import json as daylength_json
from daylatch.birds.daylength import text as daylength_text
from daylatch.birds.daylength.daylength import PHOTOPERIOD_NORMS, make_day_lengths
from daylatch.birds.daylength.lamp import make_lamp
from daylatch.calendars import lamp as calendar
from daylatch.cautions import CAUTION, LAMP_CAUTION
from daylatch.files.occasion import Occasion
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from peers.calendar_reader import instant, read, shipped_zone, unescape
from plan_forms import get_writer
from plan_forms import written as plan_written
from sites import FALLBACKS, ID, LORD_HOWE, NY_ALESUND, SINGAPORE, TAMPERE, UTRECHT, plan, site

ROOT = Path(__file__).resolve().parents[3]
MINUTE = np.timedelta64(1, "m")
STAMP = dt.datetime(2026, 12, 1, 12, 0, tzinfo=dt.UTC)
MORNING = '[laying]\nlamp = "morning"\n'
STEPS = f"{MORNING}lamp_from = 2027-10-20\nlamp_until = 2027-12-31\n"
NAMED = '[calendar]\ntimes = "zone"\n'

CASES = [
    (UTRECHT, "2027-10-15", "2027-12-31", STEPS),
    (UTRECHT, "2027-10-25", "2027-11-05", '[laying]\nlamp = "both"\n'),
    (NY_ALESUND, "2027-10-10", "2027-12-05", MORNING),
    (LORD_HOWE, "2027-03-25", "2027-06-10", '[laying]\nlamp = "evening"\ncounts = "civil"\n'),
    (TAMPERE, "2027-12-15", "2027-12-25", f"{MORNING}wanted_h = 16.0\n"),
    (SINGAPORE, "2027-03-01", "2027-03-10", MORNING),
]


def made(spot, first, last, text=""):
    lengths = make_day_lengths(plan(spot, first, last, FALLBACKS + text))
    return lengths, make_lamp(lengths, exactly(lengths.plan))


def written(module, case, previous=None, stamp=STAMP):
    return module.render(*made(*case), Occasion(stamp, previous))


def parsed(text):
    """Return the instant of a date-time with its distance from UTC, read by Python alone."""
    moment = dt.datetime.fromisoformat(text).astimezone(dt.UTC).replace(tzinfo=None)
    return np.datetime64(moment, "us")


def burns(lamp):
    """Return every time that the lamp burns, by its date."""
    return [
        (str(date), lamp.on_utc[turn, row], lamp.off_utc[turn, row])
        for row, date in enumerate(lamp.lengths.plan.dates)
        for turn in (0, 1)
        if not np.isnat(lamp.on_utc[turn, row])
    ]


# --- Read back --------------------------------------------------------------------------------


@pytest.mark.parametrize("case", CASES)
def test_csv_and_json_give_the_lamps_instants(case):
    lengths, lamp = made(*case)
    rows = list(csv.DictReader(io.StringIO(written(daylength_csv, case).decode(), newline="")))
    days = json.loads(written(daylength_json, case))["days"]
    dates = [str(date) for date in lengths.plan.dates]
    assert [row["date"] for row in rows] == [day["date"] for day in days] == dates
    from_csv, from_json = [], []
    for row, day in zip(rows, days, strict=True):
        for turn in ("", "_2"):
            on, off = (row[f"lamp{turn}_{side}_local"] for side in ("on", "off"))
            if on:
                from_csv.append((row["date"], parsed(on), parsed(off)))
                assert parsed(row[f"lamp{turn}_on_utc"]) == parsed(on)
                assert parsed(row[f"lamp{turn}_off_utc"]) == parsed(off)
        for burn in day["lamp"]:
            from_json.append((day["date"], parsed(burn["on"]), parsed(burn["off"])))
    assert from_csv == from_json == burns(lamp)


@pytest.mark.parametrize("case", CASES)
def test_csv_and_json_give_every_length(case):
    lengths, lamp = made(*case)
    rows = list(csv.DictReader(io.StringIO(written(daylength_csv, case).decode(), newline="")))
    days = json.loads(written(daylength_json, case))["days"]
    half = np.timedelta64(30, "s")
    columns = {
        "sunrise": ("sunrise_to_sunset", "sunrise_utc", "sun"),
        "civil": ("civil", "civil_dawn_utc", "civil_light"),
    }
    for index, (row, day) in enumerate(zip(rows, days, strict=True)):
        for key, (name, begin, state) in columns.items():
            daylight = lengths.by[key]
            natural = day[name]
            assert int(row[f"{name}_min"]) == natural["min"]
            assert abs(natural["min"] * MINUTE - daylight.length[index]) <= half
            assert (natural["from"] is None) == np.isnat(daylight.rising[index])
            if natural["from"] is not None:
                off = np.abs(parsed(natural["from"]) - daylight.rising[index])
                assert off <= np.timedelta64(500, "us")
                assert abs(parsed(row[begin]) - daylight.rising[index]) <= np.timedelta64(500, "ms")
            assert row[state] == natural["sun"].replace("crosses", "")
            assert (natural["sun"] == "up") == daylight.always_up[index]
            assert (natural["sun"] == "down") == daylight.always_down[index]
        assert int(row["lacking_min"]) == day["lacking_min"]
        assert 0 <= day["lacking_min"] * MINUTE - lengths.lacking[index] < MINUTE
        assert int(row["target_min"]) == day["target_min"]
        assert abs(day["target_min"] * MINUTE - lamp.target[index]) <= half
        assert int(row["with_lamp_min"]) == day["with_lamp_min"]
        assert abs(day["with_lamp_min"] * MINUTE - lamp.length[index]) <= half
        for key, column in (
            ("before_opening_min", lamp.before_opening),
            ("after_closing_min", lamp.after_closing),
        ):
            assert int(row[key]) == day[key] == column[index] // MINUTE


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("tables", ["", NAMED])
def test_a_calendar_gives_the_lamps_instants(case, tables):
    case = (*case[:3], case[3] + tables)
    _, lamp = made(*case)
    content = written(calendar, case)
    zone = shipped_zone(case[0].zone)
    found = []
    for event in read(content).of("VEVENT"):
        identity, date, kind = event.value("UID").rsplit("-", 2)
        assert identity == ID
        assert kind in ("lamp", "lamp2")
        when = (instant(event, name, zone) for name in ("DTSTART", "DTEND"))
        found.append((f"{date[:4]}-{date[4:6]}-{date[6:]}", *when))
    assert found == burns(lamp)
    # A reader of its own, that lists what happens on days.
    listed = recurring_ical_events.of(icalendar.Calendar.from_ical(content)).all()
    instants = sorted(
        tuple(
            np.datetime64(moment.astimezone(dt.UTC).replace(tzinfo=None), "m")
            for moment in (event.start, event.end)
        )
        for event in listed
    )
    assert instants == [(on, off) for _, on, off in burns(lamp)]


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from([UTRECHT, NY_ALESUND, LORD_HOWE, TAMPERE]),
    st.sampled_from(["morning", "evening", "both"]),
    st.dates(dt.date(2027, 1, 1), dt.date(2029, 1, 1)),
    st.integers(0, 30),
)
def test_every_form_gives_the_same_instants(spot, side, start, length):
    here = site(spot, f'{FALLBACKS}[laying]\nlamp = "{side}"\n')
    lengths = make_day_lengths(make_plan(here, start, start + dt.timedelta(days=length)))
    lamp = make_lamp(lengths, exactly(lengths.plan))
    occasion = Occasion(STAMP)
    days = json.loads(daylength_json.render(lengths, lamp, occasion))["days"]
    instants = [(parsed(b["on"]), parsed(b["off"])) for day in days for b in day["lamp"]]
    assert instants == [(on, off) for _, on, off in burns(lamp)]
    if instants:
        events = read(calendar.render(lengths, lamp, occasion)).of("VEVENT")
        names = ("DTSTART", "DTEND")
        assert [tuple(instant(e, name) for name in names) for e in events] == instants
    text = daylength_text.render(lengths, lamp, occasion).decode()
    for on in lengths.plan.on_wall(lamp.on_utc[~np.isnat(lamp.on_utc)]).wall:
        assert str(on)[11:] in text
    assert max(map(len, text.splitlines())) <= 80


# --- What is said -----------------------------------------------------------------------------


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("module", [daylength_text, daylength_csv, daylength_json, calendar])
def test_every_form_names_clock_rules_and_cautions(case, module):
    content = written(module, case)
    text = " ".join(content.decode().replace("\r\n ", "").replace("\\,", ",").split())
    text = text.replace("\\;", ";")
    assert CAUTION in text
    assert LAMP_CAUTION in text
    assert case[0].zone in text or "Times are written in UTC" in text
    assert "2026f" in text


def test_without_a_lamp_nothing_is_said_of_its_dangers():
    case = (UTRECHT, "2027-01-01", "2027-01-05")
    for module in (daylength_text, daylength_csv, daylength_json):
        text = " ".join(written(module, case).decode().split())
        assert CAUTION in text
        assert LAMP_CAUTION not in text
    rows = list(csv.DictReader(io.StringIO(written(daylength_csv, case).decode(), newline="")))
    assert {row["lamp_on_local"] + row["target_min"] for row in rows} == {""}
    data = json.loads(written(daylength_json, case))
    assert data["lamp"] is None
    assert "target_min" not in data["days"][0]


def test_text_and_json_state_the_norms_with_their_sources():
    text = " ".join(written(daylength_text, CASES[0]).decode().split())
    assert json.loads(written(daylength_json, CASES[0]))["norms"] == list(PHOTOPERIOD_NORMS)
    for norm in PHOTOPERIOD_NORMS:
        assert norm in text
    for source in ("AZ2185", "8.4.4", "1999/74/EC", "heraldcourier.com, 2020-08-10", "no source"):
        assert source in text


def test_what_a_page_does_not_say_is_not_put_down_to_it():
    # agupdate, 2019-11-30, only says to lengthen the light by an hour a week; that it never gets
    # shorter for birds in production is said by heraldcourier.com, 2020-08-10.
    (weekly,) = (norm for norm in PHOTOPERIOD_NORMS if "agupdate" in norm)
    (never,) = (norm for norm in PHOTOPERIOD_NORMS if "never" in norm)
    assert weekly == (
        "lengthen the light by 1 h a week (MSU Extension, as quoted in agupdate, 2019-11-30, USA)"
    )
    assert "heraldcourier.com, 2020-08-10, Virginia, USA" in never


@pytest.mark.parametrize("case", CASES)
def test_text_fits_a_terminal(case):
    lines = written(daylength_text, case).decode().splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[0] == "daylatch day length"


def test_a_lamp_without_a_first_date_says_since_when_it_is_taken_to_burn():
    text = written(daylength_text, (UTRECHT, "2027-12-01", "2027-12-05", MORNING)).decode()
    assert "it is assumed to burn since 2027-08-27" in text
    text = written(daylength_text, (SINGAPORE, "2027-12-01", "2027-12-05", MORNING)).decode()
    assert "the natural day never reaches 14 h here" in text


def test_what_steps_cannot_reach_is_said_with_a_remedy():
    text = " ".join(written(daylength_text, CASES[0]).decode().split())
    assert "Not reached between lamp_from and lamp_until the day grows to" in text
    assert "start earlier, end later, or raise weekly_step_min (now 30)" in text
    assert "leave lamp_until out, or set lamp_until to 2028-04-16" in text
    assert "Clock changes 2027-10-31 back 1 h 00 min" in text


def test_an_evening_lamp_is_warned_of():
    case = (UTRECHT, "2027-12-01", "2027-12-05", '[laying]\nlamp = "evening"\n')
    text = " ".join(written(daylength_text, case).decode().split())
    assert "on 5 days the lamp goes off after dark, which leaves birds off the roost" in text
    morning = written(daylength_text, (*case[:3], MORNING)).decode()
    assert "after dark, which" not in " ".join(morning.split())


def test_a_time_that_the_wall_clock_shows_twice_is_told_apart():
    text = '[laying]\nlamp = "morning"\nwanted_h = 14.6\n'
    lengths, lamp = made(UTRECHT, "2027-10-31", "2027-10-31", text)
    assert str(lengths.plan.on_wall(lamp.on_utc[0]).wall[0]) == "2027-10-31T02:37"
    said = " ".join(daylength_text.render(lengths, lamp, Occasion(STAMP)).decode().split())
    assert "on 2027-10-31 at 02:37 the lamp goes on at the second of the two" in said


def test_feed_that_is_not_inside_is_pointed_out():
    house = "[house]\nfeed_inside = false\nwater_inside = true\n"
    text = written(daylength_text, (UTRECHT, "2027-12-01", "2027-12-05", MORNING + house))
    said = " ".join(text.decode().split())
    assert "feed and water must be inside; the site file says: no feed inside" in said


def test_a_keepers_words_come_through():
    name = "=1+1 <b>; $x$ \\N, [bold] 中"
    quoted = json.dumps(name, ensure_ascii=False)
    text = f'[calendar]\nshow = ["notes", "reasons"]\n{MORNING}'
    here = site(UTRECHT, text, name=quoted[1:-1], head=f"notes = {quoted}")
    day = dt.date(2027, 1, 5)
    lengths = make_day_lengths(make_plan(here, day, day))
    lamp, occasion = make_lamp(lengths, exactly(lengths.plan)), Occasion(STAMP)
    assert daylength_text.render(lengths, lamp, occasion).decode().splitlines()[1] == name
    assert json.loads(daylength_json.render(lengths, lamp, occasion))["site"]["name"] == name
    found = read(calendar.render(lengths, lamp, occasion))
    assert unescape(found.value("NAME")) == f"Hen house lamp: {name}"
    (event,) = found.of("VEVENT")
    reason, notes = unescape(event.value("DESCRIPTION")).split("\n")
    assert notes == name
    assert reason == "Keeps the day at 14 h 00 min; by itself it is 7 h 55 min long."


# --- The calendar's own ways ------------------------------------------------------------------


def test_others_see_nothing_but_the_times():
    (event, *_) = read(written(calendar, CASES[0])).of("VEVENT")
    assert {name for name, _, _ in event.lines} == {
        "UID",
        "SUMMARY",
        "DTSTART",
        "DTEND",
        "DTSTAMP",
        "SEQUENCE",
        "CATEGORIES",
        "STATUS",
        "TRANSP",
    }


def test_an_entry_keeps_its_identity_and_counts_its_changes():
    case = (UTRECHT, "2027-12-01", "2027-12-10", MORNING)
    later = STAMP + dt.timedelta(days=8)
    first = written(calendar, case)
    assert written(calendar, case, first, later) == first
    longer = (*case[:3], f"{MORNING}wanted_h = 15.0\n")
    second = written(calendar, longer, first, later)
    before, after = (read(content).of("VEVENT") for content in (first, second))
    assert [e.value("UID") for e in before] == [e.value("UID") for e in after]
    assert {e.value("SEQUENCE") for e in after} == {"1"}
    assert {e.value("LAST-MODIFIED") for e in after} == {"20261209T120000Z"}
    # A wider range leaves the entries of the same days as they were.
    wide = read(written(calendar, (UTRECHT, "2027-11-20", *case[2:]), first, later)).of("VEVENT")
    old = {e.value("UID"): e.lines for e in before}
    kept = {e.value("UID"): e.lines for e in wide if e.value("UID") in old}
    assert kept == old


def test_each_form_tells_its_own_files_from_others():
    modules = (daylength_text, daylength_csv, daylength_json, calendar)
    contents = {module: written(module, CASES[0]) for module in modules}
    door = plan(UTRECHT, "2027-01-01", "2027-01-03")
    others = [plan_written(name, door, Occasion(STAMP)) for name in ("ics", "json", "csv")]
    for one, other in pairwise([*modules, modules[0]]):
        assert one.wrote(contents[one])
        assert not one.wrote(contents[other])
        assert not any(one.wrote(content) for content in [*others, b""])
    assert not get_writer("ics").wrote(contents[calendar])


# --- The command ------------------------------------------------------------------------------

SHOWN = """\
daylatch day length
Alder Row (demo)
51.72 N 0.41 E, 2027-10-30 to 2027-11-01
Wanted: 14 h, counted from sunrise to sunset. Lengths are true hours; times are
the wall clock of Europe/London (time-zone rules 2026f).

Longest day        9 h 47 min on 2027-10-30; with civil twilight 10 h 57 min
Shortest day       9 h 39 min on 2027-11-01; with civil twilight 10 h 50 min
Under 14 h         every day

Lamp               in the morning; on 3 days: 2027-10-30 to 2027-11-01
Burns              13 h in all, at most 4 h 21 min on 2027-11-01
Awake inside       up to 4 h 01 min from lamp on to the door's opening
                   (2027-11-01): feed and water must be inside; the site file
                   says: no feed and no water inside
Begins             it is assumed to burn since 2027-08-26, when the day fell
                   under 14 h. If it does not yet, set lamp_from to the date on
                   which you first light it, and the day grows by steps
Clock changes      2027-10-31 back 1 h 00 min (02:00 becomes 01:00): a timer
                   that does not change by itself must be set by hand

Day by day [hours:minutes]; civil: from civil dawn to civil dusk
            sunrise  sunset  length  civil  lamp on off  in all
2027-10-30    07:48   17:35    9:47  10:57  03:34 07:49   14:01
2027-10-31    06:50   16:33    9:43  10:53  02:33 06:51   14:00 +
2027-11-01    06:52   16:31    9:39  10:50  02:31 06:52   14:00

+  the wall clock changes on this date

Norms:
- 14 to 16 h of light a day for laying, and a lamp before sunrise, so that birds
  roost at natural dusk (University of Arizona Extension AZ2185, January 2026)
- at most 16 h of light, and at least 8 h of dark without a break (Defra
  compendium 8.4.4, organic rules); about a third of the day dark (Directive
  1999/74/EC, Annex)
- 14 to 16 h of light, and never less for birds that lay (extension column,
  heraldcourier.com, 2020-08-10, Virginia, USA)
- lengthen the light by 1 h a week (MSU Extension, as quoted in agupdate,
  2019-11-30, USA)
- a lamp that goes off after dark leaves birds off the roost (common practice,
  no source)

A schedule does not see the birds: count heads at dusk. A door can injure a bird
or shut one out: test its obstruction stop. Wiring, mains and batteries follow
local electrical codes and a licensed practitioner. Local animal-welfare and
housing orders come first.
A lamp in a hen house can set it on fire: heat lamps, dust and straw burn. Use a
cool, closed lamp that cannot fall, keep it clean and away from litter, birds
and water, and protect the circuit with a residual-current device (in the US a
ground-fault circuit interrupter, GFCI). Wiring follows local electrical codes
and a licensed practitioner.
Times take no account of cloud, storms or hills: dark weather brings dusk
earlier and dawn later than computed.
"""


def lamp_site(path, table=MORNING):
    path.write_text(path.read_text() + "\n" + table)


def test_the_command_prints_what_a_keeper_reads(daylatch, alder_row):
    lamp_site(alder_row)
    ran = daylatch("daylength", "--from", "2027-10-30", "--until", "2027-11-01")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == SHOWN


def test_the_page_about_it_shows_what_is_printed():
    page = (ROOT / "docs/how-to/day-length-and-lamp.md").read_text()
    (shown,) = re.findall(r"```text\n(.*?)```", page, re.S)
    assert shown in SHOWN
    assert " ".join(LAMP_CAUTION.split()) in " ".join(page.split())
    names = [*daylength_csv.HEADER[:11], "with_lamp_min", "before_opening_min"]
    for name in [*names, "after_closing_min"]:
        assert f"`{name}`" in page


@pytest.mark.parametrize("suffix", ["txt", "csv", "json", "ics"])
def test_the_command_writes_a_file_and_renews_it(daylatch, alder_row, suffix):
    lamp_site(alder_row)
    arguments = ["daylength", "--year", "2027", "-o", f"lamp.{suffix}"]
    ran = daylatch(*arguments)
    assert (ran.status, ran.out) == (0, "")
    assert ran.err == f"wrote lamp.{suffix}: 2027-01-01 to 2027-12-31\n"
    assert daylatch(*arguments).err == f"lamp.{suffix}: already up to date\n"


@pytest.mark.parametrize("suffix", ["csv", "json", "ics"])
def test_the_doors_file_is_not_replaced_by_the_lamps(daylatch, alder_row, suffix):
    lamp_site(alder_row)
    assert daylatch("plan", "--year", "2027", "-o", f"door.{suffix}").status == 0
    kept = (alder_row.parent / f"door.{suffix}").read_bytes()
    ran = daylatch("daylength", "--year", "2027", "-o", f"door.{suffix}")
    assert ran.status == 6
    assert f"door.{suffix}" in ran.err
    assert (alder_row.parent / f"door.{suffix}").read_bytes() == kept


@pytest.mark.parametrize("suffix", ["json", "ics"])
def test_another_houses_file_is_not_replaced(daylatch, alder_row, suffix):
    lamp_site(alder_row)
    daylatch("daylength", "--year", "2027", "-o", f"lamp.{suffix}")
    text = alder_row.read_text().replace("5d0c6a5e", "5d0c6a5f")
    alder_row.write_text(text)
    ran = daylatch("daylength", "--year", "2027", "-o", f"lamp.{suffix}")
    assert ran.status == 6
    assert "another house" in ran.err


def test_a_calendar_without_a_lamp_is_refused(daylatch, alder_row):
    ran = daylatch("daylength", "--year", "2027", "--to", "ics")
    assert (ran.status, ran.out) == (2, "")
    assert 'none is asked for: set lamp = "morning" under [laying]' in ran.err
    lamp_site(alder_row)
    ran = daylatch("daylength", "--from", "2027-06-01", "--until", "2027-06-30", "--to", "ics")
    assert (ran.status, ran.out) == (2, "")
    assert "the lamp is off on every day from 2027-06-01 to 2027-06-30" in ran.err


def test_two_houses_with_one_id_get_no_calendar(daylatch, alder_row):
    lamp_site(alder_row)
    text = alder_row.read_text().replace("name = ", 'name = "Other house" # ')
    (alder_row.parent / "copy.toml").write_text(text)
    assert daylatch("daylength", "--year", "2027", "--to", "ics").status == 3
    assert daylatch("daylength", "--year", "2027").status == 0


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("wanted_h = 17.0", "laying.wanted_h"),
        ('lamp = "noon"', "laying.lamp"),
        ("lamp_from = 1850-01-01", "laying.lamp_from = 1850-01-01"),
        ("lamp_from = 2027-03-01\nlamp_until = 2027-02-01", "lies before lamp_from"),
        ("weekly_step_min = 0", "laying.weekly_step_min"),
    ],
)
def test_a_bad_table_gets_one_clear_message_and_writes_nothing(daylatch, alder_row, table, words):
    lamp_site(alder_row, f"[laying]\n{'' if 'lamp =' in table else MORNING[9:]}{table}\n")
    ran = daylatch("daylength", "--year", "2027", "-o", "lamp.csv")
    assert ran.status in (3, 4)
    assert words in ran.err
    assert len(ran.err.splitlines()) == 1
    assert not (alder_row.parent / "lamp.csv").exists()


def test_the_clock_stands_still_for_a_given_stamp(daylatch, alder_row, monkeypatch):
    lamp_site(alder_row)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798761600")
    runs = [daylatch("daylength", "--year", "2027", "--to", "ics").out for _ in range(2)]
    assert runs[0] == runs[1]
    assert "DTSTAMP:20270101T000000Z" in runs[0]
