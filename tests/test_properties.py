"""What must hold, whoever changes the program: one property a line of the design."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.clock import get_zone
from daylatch.door.timer import csv as timer_csv
from daylatch.door.timer import json as timer_json
from daylatch.door.timer.timer_list import make_timer_list
from daylatch.errors import PlanError
from daylatch.files.csv_file import fuse
from daylatch.files.occasion import Occasion
from daylatch.plan.daily.rules import Rule
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.site.timer import Timer
from peers.table_reader import read_table
from plan_forms import EXPORTS, get_writer, written
from sites import FALLBACKS, Spot, site

STAMP = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
PLACES = [
    Spot(52.09, 5.12, "Europe/Amsterdam"),
    Spot(-36.9, 149.9, "Australia/Sydney"),
    Spot(-31.55, 159.08, "Australia/Lord_Howe"),
    Spot(61.5, 23.76, "Europe/Helsinki"),
    Spot(69.65, 18.96, "Europe/Oslo"),
    Spot(78.22, 15.65, "Arctic/Longyearbyen"),
    Spot(1.87, -157.4, "Pacific/Kiritimati"),
    Spot(33.57, -7.59, "Africa/Casablanca"),
    Spot(53.35, -6.26, "Europe/Dublin"),
    Spot(-72.01, 2.53, "Antarctica/Troll"),
    Spot(-33.45, -70.67, "America/Santiago"),
    Spot(27.72, 85.32, "Asia/Kathmandu"),
    Spot(-14.28, -170.7, "Pacific/Pago_Pago"),
    Spot(-77.84, 166.68, "Antarctica/McMurdo"),
]
SETTINGS = [
    "",
    '[day]\nleast_open_h = 9\nwiden = "both"\n',
    '[day]\nleast_open_h = 11\nwiden = "open earlier"\nguard = "astronomical"\n',
    '[night]\nleast_h = 9\nlengthen = "both"\n',
    '[day]\nleast_open_h = 14\nwiden = "close later"\n[night]\nleast_h = 9\n'
    'lengthen = "close earlier"\n',
    '[[span]]\nfrom = 2026-03-27\nuntil = 2026-03-30\nshut = true\nreason = "a storm"\n'
    "[[span]]\nfrom = 2026-09-15\nuntil = 2026-10-30\nclose.offset_min = 45\nday.guard = 9\n",
]

places = st.sampled_from(PLACES)
rules = st.sampled_from(SETTINGS)
starts = st.dates(dt.date(2026, 1, 1), dt.date(2030, 12, 1))
lengths = st.integers(1, 60)


def house(spot, text):
    return site(spot, FALLBACKS + text)


def columns(plan):
    decisions = plan.decisions
    return {
        "dates": plan.dates,
        "open": plan.open_utc,
        "close": plan.close_utc,
        "next": plan.next_open_utc,
        "open_rule": decisions.open.decided_by,
        "close_rule": decisions.close.decided_by,
        "open_short": decisions.open_shortfall,
        "night_short": decisions.night_shortfall,
        "event": plan.open_event_utc,
        "dusk": plan.sun.dusk,
    }


@settings(max_examples=60, deadline=None)
@given(places, rules, starts, lengths, st.data())
def test_planning_in_pieces_equals_planning_whole(spot, text, start, length, data):
    end = start + dt.timedelta(days=length)
    here = house(spot, text)
    whole = columns(make_plan(here, start, end))
    middle = start + dt.timedelta(days=data.draw(st.integers(0, length - 1)))
    pieces = [
        columns(make_plan(here, start, middle)),
        columns(make_plan(here, middle + dt.timedelta(days=1), end)),
    ]
    for key, column in whole.items():
        joined = np.concatenate([piece[key] for piece in pieces])
        np.testing.assert_array_equal(joined, column, err_msg=key)


@settings(max_examples=60, deadline=None)
@given(places, rules, starts, lengths)
def test_lock_ins_and_open_spans_tile_the_time_line(spot, text, start, length):
    plan = make_plan(house(spot, text), start, start + dt.timedelta(days=length))
    up = plan.is_open
    opened, closed, following = plan.open_utc[up], plan.close_utc[up], plan.next_open_utc[up]
    assert np.all(opened < closed)
    # Every lock-in ends with the very next opening: no gap, no overlap, in UTC.
    np.testing.assert_array_equal(following[:-1], opened[1:])
    assert np.all(closed < following)
    assert np.all(opened > plan.day_start_utc[up])
    assert np.all(closed <= plan.day_end_utc[up])
    assert np.all(np.isnat(plan.next_open_utc[~up]))


@settings(max_examples=40, deadline=None)
@given(places, rules, starts, st.integers(1, 20))
def test_every_export_gives_the_plans_minutes(spot, text, start, length):
    plan = make_plan(house(spot, text), start, start + dt.timedelta(days=length))
    occasion = Occasion(STAMP)

    def instants(texts):
        parsed = [dt.datetime.fromisoformat(t) if t else None for t in texts]
        return np.array(
            [p.astimezone(dt.UTC).replace(tzinfo=None) if p else "NaT" for p in parsed],
            "datetime64[m]",
        )

    rows = list(csv.DictReader(io.StringIO(written("csv", plan, occasion).decode())))
    days = json.loads(written("json", plan, occasion))["days"]
    assert [row["date"] for row in rows] == [day["date"] for day in days]
    for side, column in (("open", plan.open_utc), ("close", plan.close_utc)):
        for suffix in ("local", "utc", "door_clock"):
            np.testing.assert_array_equal(instants([r[f"{side}_{suffix}"] for r in rows]), column)
        for key in (side, f"{side}_door_clock"):
            np.testing.assert_array_equal(instants([d[key] or "" for d in days]), column)
    # The wall-clock text itself is what an independent clock shows.
    zone = get_zone(spot.zone)
    for row in rows:
        if row["open_local"]:
            offset = dt.datetime.fromisoformat(row["open_local"]).utcoffset()
            instant = np.array([row["open_utc"][:-1]], "datetime64[m]")
            assert zone.offset_at(instant)[0].item() == offset


@settings(max_examples=25, deadline=None)
@given(places, rules, starts, st.integers(0, 20), st.sampled_from(["wall", "standard", "utc"]))
def test_a_controller_table_gives_the_plans_minutes(spot, text, start, length, clock):
    """By the reader that was written from the reference page."""
    here = house(spot, f'{text}[door]\nclock = "{clock}"\n')
    plan = make_plan(here, start, start + dt.timedelta(days=length))
    ask = read_table(get_writer("table").render(plan, Occasion(STAMP)))
    opens, closes = (plan.on_door(t).wall for t in (plan.open_utc, plan.close_utc))
    for index, date in enumerate(plan.dates):
        shown = ask(date.item())
        if plan.is_open[index]:
            assert [date + np.timedelta64(m, "m") for m in shown] == [opens[index], closes[index]]
        else:
            assert shown == "shut"


@settings(max_examples=25, deadline=None)
@given(places, rules, starts, st.integers(0, 40), st.integers(0, 3), st.integers(0, 20))
def test_a_timers_list_keeps_to_the_plan(spot, text, start, length, margin, more):
    """Read back from CSV and JSON, by a clock that is right, as fast or as slow as it may be."""
    here = house(spot, f'{text}[door]\nclock = "standard"\n')
    plan = make_plan(here, start, start + dt.timedelta(days=length))
    tolerance = 2 * margin + more
    timer = Timer(tolerance_min=tolerance, clock_margin_min=margin)
    if not plan.is_open.any():
        with pytest.raises(PlanError, match="door stays shut on every day"):
            make_timer_list(plan, timer)
        return
    # Every day by itself keeps any tolerance, so that there always is a list.
    found = make_timer_list(plan, timer)
    occasion = Occasion(STAMP)
    rows = list(csv.DictReader(io.StringIO(timer_csv.render(found, occasion).decode())))
    settings_ = json.loads(timer_json.render(found, occasion))["settings"]
    assert [row["from"] for row in rows] == [one["from"] for one in settings_]
    standard = plan.zone.standard_offset(plan.dates)
    for index, date in enumerate(plan.dates):
        row = [row for row in rows if row["from"] <= str(date)][-1]
        one = [one for one in settings_ if one["from"] <= str(date)][-1]
        assert row["timer"] == one["timer"] == ("on" if plan.is_open[index] else "off")
        if not plan.is_open[index]:
            continue
        for side, planned in (("open", plan.open_utc), ("close", plan.close_utc)):
            (program,) = one["programs"]
            assert row[side] == program[side]
            assert int(row[f"{side}_day"]) == program[f"{side}_day"]
            day = date + np.timedelta64(program[f"{side}_day"], "D")
            shown = np.datetime64(f"{day}T{row[side]}") - standard[index]
            late = int((shown - planned[index]) / np.timedelta64(1, "m"))
            assert margin <= late <= tolerance - margin


@settings(max_examples=15, deadline=None)
@given(places, rules, starts, st.sampled_from(sorted(EXPORTS)))
def test_the_same_input_gives_the_same_bytes(spot, text, start, export):
    def render():
        plan = make_plan(house(spot, text), start, start + dt.timedelta(days=20))
        return written(export, plan, Occasion(STAMP))

    assert render() == render()


@settings(max_examples=25, deadline=None)
@given(st.floats(-60, 60), st.integers(-10, 10), st.dates(dt.date(2026, 1, 1), dt.date(2030, 1, 1)))
def test_a_shift_by_an_hours_longitude_moves_no_time_by_more_than_the_sun_moves(lat, hour, start):
    """Fixed-offset zones named by their sign reversed: Etc/GMT-1 is an hour ahead of UTC."""

    def clock(shift):
        ahead = hour + shift
        name = f"Etc/GMT{-ahead:+d}" if ahead else "Etc/GMT"
        here = site(Spot(lat, 15.0 * ahead, name), FALLBACKS)
        plan = make_plan(here, start, start + dt.timedelta(days=3))
        return plan.on_wall(plan.open_utc).wall, plan.on_wall(plan.close_utc).wall, plan

    one, other = clock(0), clock(1)
    for side in (0, 1):
        moved = np.abs((one[side] - other[side]).astype(int))
        # In an hour dawn and dusk drift by a twenty-fourth of their daily change; rounding to
        # whole minutes adds one.
        drift = np.abs(np.diff(one[side]).astype(int) - 1440).max() / 24
        assert moved.max() <= np.ceil(drift) + 1


HOSTILE = [
    "=1+1",
    "@SUM(A1)",
    "-2+3",
    "+cmd",
    "'quoted'",
    '"double", comma; semicolon \\ backslash',
    "<script>alert(1)</script>",
    "[bold]rich[/bold] %s {0}",
    "$x^2$ \\frac",
    "*/ int main(void)",
    "h\u00fchner \U0001f414 \u4e2d\u6587 \u0645\u0631\u062d\u0628\u0627",
    "../../etc/passwd",
    "BEGIN:VEVENT",
]


@pytest.mark.parametrize("text", HOSTILE)
@pytest.mark.parametrize("export", ["text", "csv", "json"])
def test_any_text_comes_through_every_writer_as_that_text(text, export):
    quoted = json.dumps(text, ensure_ascii=False)
    here = site(
        PLACES[0],
        f"[[span]]\nfrom = 2027-03-01\nuntil = 2027-03-02\nshut = true\nreason = {quoted}\n",
    )
    here = replace(
        here,
        settings=replace(here.settings, head=here.settings.head.model_copy(update={"name": text})),
    )
    plan = make_plan(here, dt.date(2027, 3, 1), dt.date(2027, 3, 3))
    content = written(export, plan, Occasion(STAMP)).decode()
    match export:
        case "text":
            assert content.splitlines()[1] == text
            assert f"({text})" in " ".join(content.split())
        case "csv":
            rows = list(csv.DictReader(io.StringIO(content)))
            assert fuse(rows[0]["span_reason"]) == text
            assert not rows[0]["span_reason"].startswith(("=", "+", "-", "@"))
        case "json":
            data = json.loads(content)
            assert data["site"]["name"] == text
            assert data["days"][0]["spans"] == [text]


@pytest.mark.parametrize("character", ["\x00", "\x07", "\x1b", "\x7f", "\u202e", "\u2028"])
def test_control_characters_are_refused_on_input(character):
    escaped = f"\\u{ord(character):04x}"
    with pytest.raises(Exception, match="take out the invisible character"):
        site(PLACES[0], name=f"a{escaped}b")


def test_what_is_missing_is_always_a_shortfall():
    """Day by day: open time and night fall short exactly by what the plan says."""
    for spot in PLACES:
        for text in SETTINGS:
            here = house(spot, text)
            try:
                plan = make_plan(here, dt.date(2026, 1, 1), dt.date(2026, 12, 31))
            except PlanError as error:  # pragma: no cover - shows which combination failed
                pytest.fail(f"{spot} {text}: {error}")
            shut = plan.decisions.open.decided_by == Rule.SHUT_SPAN
            span = np.where(plan.is_open, plan.close_utc - plan.open_utc, np.timedelta64(0, "m"))
            missing = np.maximum(plan.settings.least_open - span, np.timedelta64(0, "m"))
            np.testing.assert_array_equal(
                plan.decisions.open_shortfall, np.where(shut, np.timedelta64(0, "m"), missing)
            )
            night = exactly(plan).lock_in
            wanted = plan.settings.least_night
            known = ~np.isnat(night)
            np.testing.assert_array_equal(
                plan.decisions.night_shortfall[known],
                np.maximum(wanted - night, np.timedelta64(0, "m"))[known],
            )
