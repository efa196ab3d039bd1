"""Pictures: what is drawn is the plan, in every form, readable by everyone and everywhere."""

from __future__ import annotations

import datetime as dt
import io
import itertools
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pypdfium2
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb, to_rgba
from matplotlib.lines import Line2D
from matplotlib.path import Path as Outline
from PIL import Image

from daylatch.arrays import DAY_MIN
from daylatch.birds.compare.comparison import compare_plans
from daylatch.birds.nights.nights import make_nights
from daylatch.cautions import CAUTION
from daylatch.clock import Fold, get_zone, zone_rules_version
from daylatch.commands.forms import form_named
from daylatch.door.works.due import make_due
from daylatch.paper.pictures import style
from daylatch.paper.pictures.columns import joined, on_dates, outline, without
from daylatch.paper.pictures.comparison import ONLY_FIRST, ONLY_SECOND, draw_comparison
from daylatch.paper.pictures.nights import DARK_FILL, WAKING_FILL, draw_nights
from daylatch.paper.pictures.scales import DrawnDates, date_scale
from daylatch.paper.pictures.year import draw_year
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import load_site
from daylatch.sun.crossings import sun_position
from sites import APIA, FALLBACKS, LONGYEARBYEN, LORD_HOWE, SINGAPORE, TAMPERE, UTRECHT, Spot, site
from sites import plan as plan_of

FORMS = ("svg", "png", "pdf")
SCHEDULES = Path(__file__).resolve().parents[3] / "schedules"
# Settings that differ from those of each demo site, for comparisons.
OTHER = {
    "alder-row": ["close.offset_min=35"],
    "fjord-end": ['open.not_before="07:00"'],
    "gum-flat": ['close.light="civil"', "close.offset_min=10"],
    "lagoon-hut": ['close.not_after="none"', "open.offset_min=40"],
}
RANGES = {
    "a year": ("2027-01-01", "2027-12-31"),
    "a leap year": ("2028-01-01", "2028-12-31"),
    "three days": ("2027-03-27", "2027-03-29"),
    "across years": ("2027-10-20", "2028-04-15"),
    "one day": ("2027-06-21", "2027-06-21"),
    "five years": ("2027-01-01", "2031-12-31"),
}
# Its lowest Sun is at about 23:35.
EAST_OF_ITS_ZONE = Spot(45.8, 126.6, "Asia/Shanghai")
TODAY = dt.date(2027, 3, 28)
JUNE_14 = str(int(dt.datetime(2027, 6, 14, 1, tzinfo=dt.UTC).timestamp()))
_MINUTE = np.timedelta64(1, "m")


def render(picture, form: str) -> bytes:
    return form_named("draw", form).writer().render(picture)


def wrote(content: bytes, form: str) -> bool:
    return form_named("draw", form).writer().wrote(content)


@cache
def demo_plan(name: str, first: str, last: str, changes: tuple[str, ...] = ()):
    dates = (dt.date.fromisoformat(first), dt.date.fromisoformat(last))
    return make_plan(load_site(SCHEDULES / f"{name}.toml", changes), *dates)


def pictures(name: str, first: str, last: str):
    """Return the three pictures of a demo site."""
    plan = demo_plan(name, first, last)
    other = demo_plan(name, first, last, tuple(OTHER[name]))
    return {
        "year": draw_year(exactly(plan), TODAY),
        "nights": draw_nights(make_nights(exactly(plan)), TODAY),
        "compare": draw_comparison(compare_plans(plan, other, "as it is", "other"), TODAY),
    }


def drawn(picture, gid: str) -> list[list[tuple[int, int]]]:
    """Read a shape back: for each day the stretches inside it, by the even-odd rule.

    An upright line in the middle of a day crosses the outline at the ends of its stretches.
    """
    (patch,) = picture.patches_of(gid)
    path = patch.get_path()
    crossings: dict[int, list[int]] = {}
    for (x0, y0), (x1, y1), code in zip(
        path.vertices[:-1], path.vertices[1:], path.codes[1:], strict=True
    ):
        if code == Outline.MOVETO:
            continue
        assert x0 == x1 or y0 == y1, "only steps"
        for day in range(int(min(x0, x1)), int(max(x0, x1))):
            crossings.setdefault(day, []).append(int(y0))
    days = max(crossings, default=-1) + 1
    out = []
    for day in range(days):
        ends = sorted(crossings.get(day, []))
        assert len(ends) % 2 == 0
        out.append(list(zip(ends[::2], ends[1::2], strict=True)))
    return out


def lines_of(picture, x: float) -> list[Line2D]:
    """Return the upright lines at a place."""
    return [
        artist
        for artist in picture.artists
        if isinstance(artist, Line2D) and artist.get_xdata() == pytest.approx([x, x])
    ]


class Drawn:
    """A picture whose shapes can be asked for what they hold."""

    def __init__(self, picture):
        self.picture = picture
        self.days: dict[str, list[list[tuple[int, int]]]] = {}

    def patches_of(self, gid: str):
        return [artist for artist in self.picture.artists if artist.get_gid() == gid]

    def stretches(self, gid: str, day: int) -> list[tuple[int, int]]:
        if gid not in self.days:
            self.days[gid] = drawn(self, gid) if self.patches_of(gid) else []
        columns = self.days[gid]
        return columns[day] if day < len(columns) else []

    def holds(self, gid: str, day: int, minute: float) -> bool:
        return any(low <= minute < high for low, high in self.stretches(gid, day))


def instants_shown(zone, date: np.datetime64, minute: int) -> list[np.datetime64]:
    """Return the instants at which the wall clock shows a time: one, two, or in a gap none."""
    wall = np.array([date.astype("datetime64[m]") + minute * _MINUTE])
    found = {zone.to_instants(wall, fold)[0] for fold in Fold}
    return [at for at in sorted(found) if zone.to_local(np.array([at])).wall[0] == wall[0]]


def minutes_of(stretches: list[tuple[int, int]]) -> set[int]:
    return {minute for low, high in stretches for minute in range(low, high)}


def longest_run(minutes: set[int]) -> int:
    best = run = 0
    before = None
    for minute in sorted(minutes):
        run = run + 1 if minute - 1 == before else 1
        best, before = max(best, run), minute
    return best


class TestYearIsThePlan:
    CASES = (
        *((name, *RANGES["a year"]) for name in OTHER),
        ("alder-row", *RANGES["across years"]),
        ("fjord-end", *RANGES["a leap year"]),
        ("gum-flat", *RANGES["three days"]),
    )

    @pytest.mark.parametrize(("name", "first", "last"), CASES)
    def test_the_open_shape_holds_a_minute_if_and_only_if_the_door_is_open(self, name, first, last):
        plan = demo_plan(name, first, last)
        picture = Drawn(draw_year(exactly(plan)))
        random = np.random.default_rng(3)
        up = plan.is_open
        opens, closes = plan.open_utc[up], plan.close_utc[up]
        asked = 0
        for index in range(len(plan)):
            # Each day's own times and both their neighbours, and others at random.
            wall = plan.on_wall(np.array([plan.open_utc[index], plan.close_utc[index]])).wall
            own = [
                int((time - plan.dates[index].astype("datetime64[m]")) // _MINUTE) + step
                for time in wall
                if not np.isnat(time)
                for step in (-1, 0, 1)
            ]
            for minute in {*own, *random.integers(0, DAY_MIN, 8).tolist()}:
                day = int((plan.dates[index] - plan.dates[0]).astype(int)) + minute // DAY_MIN
                date = plan.dates[0] + day
                instants = instants_shown(plan.zone, date, minute % DAY_MIN)
                within = [plan.day_start_utc[0] <= at < plan.day_end_utc[-1] for at in instants]
                if date > plan.dates[-1] or not instants or not all(within):
                    continue
                is_open = any(((opens <= at) & (at < closes)).any() for at in instants)
                assert picture.holds("open", day, minute % DAY_MIN) == is_open, (date, minute)
                asked += 1
        assert asked > 8 * len(plan)

    @pytest.mark.parametrize("name", OTHER)
    def test_the_bands_agree_with_the_altitude_of_the_sun(self, name):
        plan = demo_plan(name, *RANGES["a year"])
        picture = Drawn(draw_year(exactly(plan)))
        bands = [band.replace(" ", "-") for band in style.BANDS]
        # Angles of the Sun's centre: US Naval Observatory, "Rise, Set, and Twilight Definitions".
        bounds = np.array([-18.0, -12.0, -6.0, -0.8333])
        random = np.random.default_rng(4)
        asked = dict.fromkeys(bands, 0)
        for day in range(0, len(plan), 3):
            for minute in random.integers(0, DAY_MIN, 24).tolist():
                for at in instants_shown(plan.zone, plan.dates[0] + day, minute):
                    place = (plan.site.latitude_deg, plan.site.longitude_deg)
                    altitude = float(sun_position(*place, at).altitude_deg)
                    # The bands are drawn to the minute, in which the Sun moves a quarter degree.
                    if np.abs(bounds - altitude).min() < 0.25:
                        continue
                    here = [picture.holds(band, day, minute) for band in bands]
                    assert here == [True, *(altitude > bounds)], (day, minute, altitude)
                    asked[bands[sum(here) - 1]] += 1
        assert min(asked.values()) > 50, asked

    @pytest.mark.parametrize(
        ("name", "change", "minutes"),
        [("alder-row", "2027-03-28", 60), ("lagoon-hut", "2027-10-03", 30)],
    )
    def test_a_clock_change_is_one_step_on_its_date(self, name, change, minutes):
        plan = demo_plan(name, *RANGES["a year"])
        picture = Drawn(draw_year(exactly(plan)))
        day = plan.index_of(dt.date.fromisoformat(change))
        for band in ("civil-twilight", "day"):
            (before,), (after,) = (picture.stretches(band, n) for n in (day - 1, day))
            for earlier, later in zip(before, after, strict=True):
                assert minutes - 6 < later - earlier < minutes + 6
            for n in (day - 2, day):
                (one,), (next_one,) = (picture.stretches(band, m) for m in (n, n + 1))
                assert max(abs(a - b) for a, b in zip(one, next_one, strict=True)) < 6
        # Night and day fill the day of the change: no hole where an hour is left out.
        assert picture.stretches("night", day) == [(0, DAY_MIN)]
        # A dotted line stands there.
        x = style.LEFT + day * (style.RIGHT - style.LEFT) / len(plan)
        assert [line for line in lines_of(picture.picture, x) if line.is_dashed()]

    def test_a_day_that_closes_after_midnight_stays_whole(self):
        plan = plan_of(TAMPERE, "2027-06-20", "2027-06-24", LATE)
        picture = Drawn(draw_year(exactly(plan)))
        for day in range(5):
            assert picture.stretches("open", day) == [(330, DAY_MIN + 35)]
        # The dates begin at 01:00, and midnight stands below their end.
        (panel,) = picture.stretches("night", 2)
        assert panel == (60, DAY_MIN + 60)
        said = [text.get_text() for text in picture.picture.texts]
        assert said.count("01:00") == 2
        assert "24:00" not in said
        assert any(text.startswith("above the line at 00:00: after midnight") for text in said)
        assert "from 01:00 on" in picture.picture.description

    def test_so_does_one_that_opens_before_midnight(self):
        text = '[[span]]\nfrom = 2027-06-01\nuntil = 2027-06-30\nopen.fixed = "23:40"\n'
        plan = plan_of(EAST_OF_ITS_ZONE, "2027-06-20", "2027-06-24", text)
        assert (plan.on_wall(plan.open_utc).wall < plan.dates).all()
        picture = Drawn(draw_year(exactly(plan)))
        for day in range(1, 4):
            (stretch,) = picture.stretches("open", day)
            assert stretch[0] == -20
        said = [text.get_text() for text in picture.picture.texts]
        assert any(text.startswith("below the line at 00:00: before midnight") for text in said)

    def test_where_every_full_hour_parts_some_day_they_begin_at_midnight(self):
        text = LATE.replace("00:35", "00:10")
        text += '[[span]]\nfrom = 2027-06-22\nuntil = 2027-06-22\nopen.fixed = "00:40"\n'
        # Its lowest Sun is at about 00:22.
        plan = plan_of(Spot(69.65, 25.0, "Europe/Oslo"), "2027-06-20", "2027-06-24", text)
        picture = Drawn(draw_year(exactly(plan)))
        assert picture.stretches("open", 1) == [(0, 10), (330, DAY_MIN)]
        assert picture.stretches("open", 2) == [(0, 10), (40, DAY_MIN)]
        assert "24:00" in [text.get_text() for text in picture.picture.texts]

    @pytest.mark.parametrize("name", [*OTHER, "dark", "white", "equator"])
    def test_the_key_holds_what_is_drawn_and_nothing_else(self, name):
        if name in OTHER:
            plan = demo_plan(name, *RANGES["a year"])
        else:
            spots = {"dark": LONGYEARBYEN, "white": TAMPERE, "equator": SINGAPORE}
            plan = plan_of(spots[name], "2027-01-01", "2027-12-31", FALLBACKS)
        made = draw_year(exactly(plan))
        picture = Drawn(made)
        bands = list(style.BANDS)
        seen = set()
        for day in range(len(plan)):
            if picture.stretches("shut", day):
                continue
            open_here = minutes_of(picture.stretches("open", day))
            lighter: set[int] = set()
            for band in reversed(bands):
                lit = minutes_of(picture.stretches(band.replace(" ", "-"), day))
                here, lighter = lit - lighter, lit
                words = {"night": "at night", "day": "by day"}.get(band, f"in {band}")
                for state, part in (("open", here & open_here), ("shut", here - open_here)):
                    # What is no wider than the line around the open time is not seen.
                    if longest_run(part) > 5:
                        seen.add(f"{state} {words}")
        texts = {text.get_text().removeprefix("door ") for text in made.texts}
        told = {text for text in texts if re.fullmatch(r"(open|shut) (by|in|at) [a-z ]+", text)}
        assert told == seen
        assert ("shut by day" in told) == (name not in ("lagoon-hut", "equator"))

    def test_shut_days_and_dated_spans_are_hatched(self):
        plan = demo_plan("alder-row", *RANGES["a year"])
        picture = Drawn(draw_year(exactly(plan)))
        shut, spans = set(), set()
        for day in range(len(plan)):
            shut |= {day} if picture.stretches("shut", day) else set()
            spans |= {day} if picture.stretches("open-in-span", day) else set()
        assert shut == set(np.flatnonzero(plan.settings.shut).tolist()) != set()
        assert spans == set(np.flatnonzero(plan.settings.in_span & plan.is_open).tolist()) != set()
        for gid in ("shut", "open-in-span"):
            assert picture.patches_of(gid)[0].get_hatch()
        said = {text.get_text() for text in picture.picture.texts}
        assert {"housing order (demo)", "young birds come in late"} <= said

    def test_a_date_that_the_calendar_skipped_stays_blank(self):
        plan = plan_of(APIA, "2011-12-27", "2012-01-02")
        picture = Drawn(draw_year(exactly(plan)))
        skipped = (dt.date(2011, 12, 30) - dt.date(2011, 12, 27)).days
        assert picture.stretches("night", skipped) == []
        assert picture.stretches("open", skipped) == []
        assert picture.stretches("open", skipped - 1)
        assert picture.stretches("open", skipped + 1)
        assert any("date skipped" in text.get_text() for text in picture.picture.texts)


# Closing at 00:35, after midnight; the day's lowest Sun is at about 01:27 there.
LATE = '[open]\nfallback = "05:30"\noffset_min = 0\n[close]\nfallback = "00:35"\n'


class TestNightsAreThePlan:
    @pytest.mark.parametrize("name", OTHER)
    def test_dark_and_waking_parts_stand_on_their_closing_dates(self, name):
        nights = make_nights(exactly(demo_plan(name, *RANGES["a year"])))
        picture = Drawn(draw_nights(nights, TODAY))
        for index, date in enumerate(nights.dates):
            day = int((date - nights.plan.dates[0]).astype(int))
            if nights.length[index] > np.timedelta64(36, "h"):
                assert not picture.stretches("dark", day)
                assert picture.stretches("several-days", day)
                continue
            dark, length = (
                round(column[index] / _MINUTE) for column in (nights.dark, nights.length)
            )
            assert picture.stretches("dark", day) == ([(0, dark)] if dark else [])
            assert picture.stretches("waking", day) == ([(dark, length)] if length > dark else [])

    def test_a_lock_in_of_many_days_is_capped_and_written(self):
        nights = make_nights(exactly(demo_plan("alder-row", *RANGES["a year"])))
        picture = Drawn(draw_nights(nights))
        hatched = [day for day in range(365) if picture.stretches("several-days", day)]
        first = (dt.date(2027, 2, 7) - dt.date(2027, 1, 1)).days
        assert hatched == list(range(first, first + 15))
        said = [text.get_text() for text in picture.picture.texts]
        assert "longest: 14 days 12 h 52 min from 7 Feb" in said
        assert any(text.startswith("longest single night: 14 h 31 min") for text in said)

    def test_so_is_one_that_runs_past_the_last_date(self):
        spans = "[[span]]\nfrom = 2027-03-04\nuntil = 2027-03-04\nshut = true\n"
        nights = make_nights(exactly(plan_of(UTRECHT, "2027-03-01", "2027-03-03", spans)))
        picture = Drawn(draw_nights(nights))
        assert [bool(picture.stretches("several-days", day)) for day in range(3)] == [
            False,
            False,
            True,
        ]

    def test_one_without_an_end_says_so(self):
        spans = "[[span]]\nfrom = 2027-03-03\nuntil = 2028-12-31\nshut = true\n"
        nights = make_nights(exactly(plan_of(UTRECHT, "2027-03-01", "2027-03-05", spans)))
        said = [text.get_text() for text in draw_nights(nights).texts]
        assert "shut in from 2 Mar, end not known" in said

    def test_the_keepers_threshold_is_drawn_and_counted(self):
        nights = make_nights(exactly(demo_plan("fjord-end", *RANGES["a year"])))
        picture = draw_nights(nights, long_night_h=16.5)
        count = int((nights.length > np.timedelta64(990, "m")).sum())
        said = [text.get_text() for text in picture.texts]
        assert f"{count} of 365 lock-ins are longer than 16.5 h" in said

    def test_a_plan_of_a_door_that_never_opens_can_be_drawn(self):
        spans = "[[span]]\nfrom = 2027-03-01\nuntil = 2027-03-09\nshut = true\n"
        plan = plan_of(UTRECHT, "2027-03-02", "2027-03-05", spans)
        for picture in (draw_year(exactly(plan)), draw_nights(make_nights(exactly(plan)))):
            for form in FORMS:
                assert wrote(render(picture, form), form)


class TestComparisonIsBothPlans:
    @pytest.mark.parametrize("name", OTHER)
    def test_both_open_shapes_and_their_differences(self, name):
        plans = [demo_plan(name, *RANGES["a year"], more) for more in ((), tuple(OTHER[name]))]
        picture = Drawn(draw_comparison(compare_plans(*plans, "a", "b")))
        for gid, plan in zip(("open-first", "open-second"), plans, strict=True):
            alone = Drawn(draw_year(exactly(plan)))
            for day in range(365):
                assert picture.stretches(gid, day) == alone.stretches("open", day)
        for day in range(365):
            first, second = (picture.stretches(f"open-{n}", day) for n in ("first", "second"))
            assert minutes_in(picture.stretches("only-first", day)) == (
                minutes_in(first) - minutes_in(second)
            )
            assert minutes_in(picture.stretches("only-second", day)) == (
                minutes_in(second) - minutes_in(first)
            )

    @pytest.mark.parametrize("name", OTHER)
    def test_gains_and_losses_and_their_totals(self, name):
        plans = [demo_plan(name, *RANGES["a year"], more) for more in ((), tuple(OTHER[name]))]
        comparison = compare_plans(*plans, "a", "b")
        picture = Drawn(draw_comparison(comparison))
        gained = (comparison.gained // _MINUTE).tolist()
        for day, minutes in enumerate(gained):
            up, down = (picture.stretches(gid, day) for gid in ("gained", "lost"))
            assert up == ([(0, minutes)] if minutes > 0 else [])
            assert down == ([(minutes, 0)] if minutes < 0 else [])
        months = comparison.dates.astype("datetime64[M]")
        heights = {}
        for text in picture.picture.texts:
            heights.setdefault(text.get_position()[1], []).append(text.get_text())
        (totals,) = [row for row in heights.values() if row[-1] == "total"]
        for month, said in zip(np.arange(months[0], months[-1] + 1), totals[:-1], strict=True):
            hours = sum(np.array(gained)[months == month].tolist()) / 60
            number = float(said.removesuffix(" h").replace("\N{MINUS SIGN}", "-"))
            assert number == pytest.approx(hours, abs=0.5 if abs(hours) >= 9.9 else 0.0501)

    def test_plans_that_do_not_differ(self):
        plan = demo_plan("alder-row", *RANGES["three days"])
        picture = Drawn(draw_comparison(compare_plans(plan, plan, "a", "a")))
        for gid in ("gained", "lost", "only-first", "only-second"):
            assert not picture.patches_of(gid)


def minutes_in(stretches) -> set[int]:
    return {minute for low, high in stretches for minute in range(low, high)}


class TestShapes:
    def test_outlines_of_random_columns_hold_exactly_their_stretches(self):
        random = np.random.default_rng(5)
        for _ in range(200):
            columns = [
                joined(
                    tuple(sorted(random.integers(0, 12, 2).tolist()))
                    for _ in range(random.integers(0, 4))
                )
                for _ in range(random.integers(1, 6))
            ]
            loops = outline(columns)
            for x, column in enumerate(columns):
                inside = {y for low, high in column for y in range(low, high)}
                for y in range(12):
                    assert winding(loops, x + 0.5, y + 0.5) == (1 if y in inside else 0)
            for loop in loops:
                for a, b, c in zip(loop, loop[1:] + loop[:1], loop[2:] + loop[:2], strict=True):
                    assert (a[0] == b[0]) != (b[0] == c[0]), "every point is a corner"

    def test_what_is_left_of_stretches(self):
        assert without([(0, 10)], [(2, 3), (5, 7)]) == [(0, 2), (3, 5), (7, 10)]
        assert without([(0, 10), (20, 30)], [(0, 25)]) == [(25, 30)]
        assert without([(4, 6)], []) == [(4, 6)]
        assert without([(4, 6)], [(0, 9)]) == []

    def test_an_hour_that_the_clock_shows_twice_is_there_once(self):
        zone = get_zone("Europe/Amsterdam")
        first, last = (np.array([f"2027-10-{day}T12:00"], "datetime64[m]") for day in (30, 31))
        columns = on_dates(zone, np.datetime64("2027-10-30"), 2, first, last)
        assert columns == [[(14 * 60, DAY_MIN)], [(0, 13 * 60)]]

    def test_half_an_hour_forward_leaves_no_hole(self):
        zone = get_zone(LORD_HOWE.zone)
        first, last = (
            np.array(["2027-10-02T13:30"], "M8[m]"),
            np.array(["2027-10-02T16:00"], "M8[m]"),
        )
        columns = on_dates(zone, np.datetime64("2027-10-03"), 1, first, last)
        # From midnight, half an hour being left out at 02:00, to 03:00 on the clock.
        assert columns == [[(0, 180)]]

    @pytest.mark.parametrize(
        ("first", "days", "cells", "groups"),
        [
            ("2027-03-27", 3, ["27", "28", "29"], ["Mar 2027"]),
            ("2027-03-30", 4, ["30", "31", "1", "2"], ["Mar 2027", "Apr 2027"]),
            (
                "2027-11-05",
                100,
                ["5\N{EN DASH}7", "8\N{EN DASH}14"],
                ["Nov 2027", "Dec 2027", "Jan 2028", "Feb 2028"],
            ),
            ("2027-10-20", 300, ["Oct", "Nov"], ["2027", "2028"]),
            (
                "2027-02-01",
                1000,
                ["Feb\N{EN DASH}Mar", "Apr\N{EN DASH}Jun"],
                ["2027", "2028", "2029"],
            ),
            ("2027-01-01", 1826, ["2027", "2028"], []),
        ],
    )
    def test_scales_of_dates(self, first, days, cells, groups):
        scale = date_scale(DrawnDates(dt.date.fromisoformat(first), days, 0), 520)
        assert [cell.label for cell in scale.cells][: len(cells)] == cells
        assert [cell.label for cell in scale.groups] == groups
        for part in filter(None, scale):
            assert part[0].start == 0
            assert part[-1].end == days
            assert all(a.end == b.start for a, b in itertools.pairwise(part))


def winding(loops, x: float, y: float) -> int:
    """Return how often loops go round a point, counter-clockwise."""
    turns = 0
    for loop in loops:
        for (x0, y0), (x1, y1) in zip(loop, loop[1:] + loop[:1], strict=True):
            if y0 == y1 and y0 < y and min(x0, x1) < x < max(x0, x1):
                turns += 1 if x1 > x0 else -1
    return turns


@pytest.fixture(scope="module", params=sorted(OTHER))
def demo(request):
    """Return a demo site's three pictures of a year."""
    return pictures(request.param, *RANGES["a year"])


class TestFiles:
    @pytest.mark.parametrize(
        ("name", "dates"),
        [
            *((name, "a year") for name in OTHER),
            *(("fjord-end", dates) for dates in list(RANGES)[1:]),
        ],
    )
    def test_every_picture_can_be_made_in_every_form(self, name, dates):
        for picture in pictures(name, *RANGES[dates]).values():
            inside(picture)
            # The form depends on neither site nor dates; each takes a while.
            for form in FORMS if (name, dates) == ("fjord-end", "a year") else ("svg",):
                content = render(picture, form)
                assert wrote(content, form)
                assert [other for other in FORMS if wrote(content, other)] == [form]

    def test_the_same_plan_gives_the_same_bytes(self, monkeypatch):
        first = pictures("alder-row", *RANGES["three days"])
        files = {(name, form): render(first[name], form) for name in first for form in FORMS}
        # Nothing of the moment is in them, also where that is given.
        monkeypatch.setenv("SOURCE_DATE_EPOCH", "1")
        again = pictures("alder-row", *RANGES["three days"])
        for (name, form), content in files.items():
            assert render(again[name], form) == content
        # A second time from the same figure, after other forms.
        assert render(first["year"], "svg") == files["year", "svg"]

    def test_in_another_process_with_other_settings_too(self, tmp_path, monkeypatch):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", JUNE_14)
        (tmp_path / "matplotlibrc").write_text(
            "font.size: 30\nlines.linewidth: 9\nsvg.hashsalt: x\npdf.fonttype: 3\n"
            "savefig.dpi: 30\nsavefig.bbox: tight\nno.such.key: 1\n"
        )
        words = ("draw", str(SCHEDULES / "gum-flat.toml"), "--year", "2027")
        for form in FORMS:
            done = subprocess.run(
                [sys.executable, "-m", "daylatch", *words, "-o", f"x.{form}"],
                cwd=tmp_path,
                capture_output=True,
                text=True,
                check=True,
            )
            assert done.stderr == f"wrote x.{form}: 2027-01-01 to 2027-12-31\n"
            plan = demo_plan("gum-flat", *RANGES["a year"])
            expected = render(draw_year(make_due(plan), dt.date(2027, 6, 14)), form)
            assert (tmp_path / f"x.{form}").read_bytes() == expected

    def test_matplotlibs_settings_stay_as_they_were(self):
        before = dict(mpl.rcParams)
        render(picture_of_year(), "png")
        assert dict(mpl.rcParams) == before

    def test_an_svg_stands_by_itself(self, demo):
        for picture in demo.values():
            content = render(picture, "svg")
            assert len(content) < 250_000
            root = ET.fromstring(content)
            assert root.get("role") == "img"
            title, words = root[0], root[1]
            assert title.tag.endswith("}title")
            assert title.text == picture.title
            assert words.tag.endswith("}desc")
            assert words.text == picture.description
            # No fonts are asked for, and nothing is fetched.
            assert not [e for e in root.iter() if e.tag.endswith(("}text", "}image", "}script"))]
            assert b"DOCTYPE" not in content
            assert b"font-family" not in content
            links = {
                value
                for element in root.iter()
                for key, value in element.attrib.items()
                if key.endswith("href")
            }
            assert links
            assert all(link.startswith("#") for link in links)
            assert all(url.startswith("#") for url in re.findall(r"url\((.)", content.decode()))
            assert b"Matplotlib" not in content

    def test_a_pdf_brings_its_fonts(self, demo):
        for picture in demo.values():
            content = render(picture, "pdf")
            fonts = re.findall(rb"/Type /Font\b", content)
            described = content.count(b"/Type /FontDescriptor")
            assert described
            assert content.count(b"/FontFile2") == described
            assert fonts
            assert b"/Type3" not in content
            assert b"/Type1" not in content
            page = pypdfium2.PdfDocument(content)[0]
            assert page.get_size() == pytest.approx((8.27 * 72, 5.83 * 72), abs=0.1)
            said = page.get_textpage().get_text_bounded()
            for part in (picture.title.split(":")[0], CAUTION.split()[-1], zone_rules_version()):
                assert part in said

    def test_a_png_is_an_a5_page_with_words(self, demo):
        for picture in demo.values():
            image = Image.open(io.BytesIO(render(picture, "png")))
            width, height = image.size
            assert (width / image.info["dpi"][0], height / image.info["dpi"][1]) == pytest.approx(
                (8.27, 5.83), abs=0.01
            )
            assert image.info["Description"] == picture.description
            assert image.info["Software"].startswith("daylatch")

    def test_other_files_are_not_taken_for_pictures(self):
        for content in (b"", b"<svg ", b"%PDF-1.4", b"\x89PNG\r\n\x1a\n", b"daylatch picture"):
            assert not any(wrote(content, form) for form in FORMS)


def picture_of_year():
    return draw_year(exactly(demo_plan("alder-row", *RANGES["across years"])), TODAY)


def inside(picture) -> None:
    """See that every text lies on the page, can be read, and covers no other."""
    renderer = FigureCanvasAgg(picture).get_renderer()
    page = picture.bbox
    boxes = []
    with style.looks():
        extents = [text.get_window_extent(renderer) for text in picture.texts]
    for text, box in zip(picture.texts, extents, strict=True):
        said = text.get_text()
        assert min(box.x0 - page.x0, page.x1 - box.x1, box.y0 - page.y0, page.y1 - box.y1) >= 0, (
            said
        )
        assert text.get_fontsize() >= 6.5
        assert text.get_parse_math() is False
        boxes.append((box, said))
    # Boxes of lines that stand close may touch by their descenders.
    for (one, said), (other, also) in itertools.combinations(boxes, 2):
        across = min(one.x1, other.x1) - max(one.x0, other.x0)
        up = min(one.y1, other.y1) - max(one.y0, other.y0)
        assert across <= 1 or up <= 0.4 * min(one.height, other.height), (said, also)


NAMES = (
    "$x^2$ \\frac{1}{0} $\\undefined$ %d {} _^",
    "<script>alert(1)</script> & 'q' \"q\" ]]> -->",
    "W" * 100,
    "\N{CHICKEN} \u9d8f\u5c0f\u5c4b \u0627\u0644\u0639\u0631\u0628\u064a\u0629",
    "\u9d8f" * 100,
    "e\u0301\u0302\u0303 a\u200db \N{SMILING FACE WITH SUNGLASSES}\ufe0f",
    "a " * 49 + "b",
)


class TestKeepersText:
    @pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
    def test_any_name_and_reason_comes_through_and_stays_on_the_page(self, name):
        quoted = name.replace("\\", "\\\\").replace('"', '\\"')
        span = (
            f'[[span]]\nfrom = 2027-03-05\nuntil = 2027-03-07\nshut = true\nreason = "{quoted}"\n'
        )
        where = site(UTRECHT, span, name=quoted)
        plan = make_plan(where, dt.date(2027, 3, 1), dt.date(2027, 3, 31))
        assert where.name == name
        comparison = compare_plans(plan, plan, name, name)
        for picture in (
            draw_year(exactly(plan), TODAY),
            draw_nights(make_nights(exactly(plan)), TODAY),
            draw_comparison(comparison, TODAY),
        ):
            inside(picture)
            assert name in picture.title
            root = ET.fromstring(render(picture, "svg"))
            assert root[0].text == picture.title
            assert root[1].text == picture.description
            said = "".join(text.get_text() for text in picture.texts).replace(" ", "")
            assert name.replace(" ", "") in said
        undated = draw_year(exactly(plan))
        assert name in undated.description
        for form in ("png", "pdf"):
            assert wrote(render(undated, form), form)

    def test_many_spans_are_hatched_and_told_even_where_their_names_lack_room(self):
        spans = "".join(
            f"[[span]]\nfrom = 2027-{month:02d}-{day:02d}\nuntil = 2027-{month:02d}-{day + 1:02d}\n"
            f'reason = "weekend {month}/{day} at the other house"\nopen.offset_min = 30\n'
            for month in range(1, 13)
            for day in (3, 17)
        )
        plan = plan_of(UTRECHT, "2027-01-01", "2027-12-31", spans)
        picture = draw_year(exactly(plan), TODAY)
        inside(picture)
        said = " ".join(text.get_text() for text in picture.texts)
        named, of = map(int, re.search(r"want of room: (\d+) of (\d+)", said).groups())
        assert of == 24
        assert named == said.count("at the other house") > 5
        assert picture.description.count("at the other house") == 24

    def test_characters_that_the_font_lacks_are_named_once(self, daylatch, alder_row):
        text = alder_row.read_text().replace(
            "Alder Row (demo)", "\N{CHICKEN} \u9d8f $1$ \N{CHICKEN}"
        )
        alder_row.write_text(text)
        done = daylatch("draw", "--year", "2027", "-o", "x.svg")
        assert done.status == 0
        first, second = done.err.splitlines()
        assert first == (
            "warning: the font lacks \u9d8f (U+9D8F CJK UNIFIED IDEOGRAPH-9D8F), "
            "\N{CHICKEN} (U+1F414 CHICKEN): a box stands there instead"
        )
        assert second == "wrote x.svg: 2027-01-01 to 2027-12-31"


# G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation
# of Color Vision Deficiency", IEEE TVCG 15(6), 2009: severity 1.0, on linear RGB. From memory; that
# rows add up to one (white stays white) is checked.
VISION = {
    "normal": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
# IEC 61966-2-1 (sRGB): linear RGB to CIE XYZ, white D65.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def linear(colour) -> np.ndarray:
    value = np.array(to_rgb(colour))
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(colour, vision: str = "normal") -> np.ndarray:
    """Return CIE L*a*b* (ISO/CIE 11664-4) of a colour as some eyes see it."""
    seen = np.clip(VISION[vision] @ linear(colour), 0, 1)
    x, y, z = (TO_XYZ @ seen) / (TO_XYZ @ np.ones(3))
    f = [t ** (1 / 3) if t > (6 / 29) ** 3 else t / (3 * (6 / 29) ** 2) + 4 / 29 for t in (x, y, z)]
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def over(colour, alpha: float, below) -> np.ndarray:
    return alpha * np.array(to_rgb(colour)) + (1 - alpha) * np.array(to_rgb(below))


def contrast(one, other) -> float:
    """Return the contrast ratio (W3C, WCAG 2.2, section 1.4.3)."""
    light, dark = sorted((float(TO_XYZ[1] @ linear(c)) for c in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


BANDS = list(style.BANDS.values())


class TestColours:
    def test_the_matrices_keep_white_white(self):
        for matrix in VISION.values():
            assert matrix.sum(axis=1) == pytest.approx(np.ones(3), abs=2e-6)
        assert lab("white") == pytest.approx([100, 0, 0], abs=0.01)

    @pytest.mark.parametrize("vision", VISION)
    @pytest.mark.parametrize(
        "neighbours",
        [
            *itertools.pairwise(BANDS),
            # Over each band, what the door lays on it.
            *((band, over(style.OPEN, style.OPEN_ALPHA, band)) for band in BANDS),
            *itertools.pairwise(over(style.OPEN, style.OPEN_ALPHA, band) for band in BANDS),
            (DARK_FILL["facecolor"], WAKING_FILL["facecolor"]),
            (WAKING_FILL["facecolor"], style.PAPER),
            (ONLY_FIRST["facecolor"], ONLY_SECOND["facecolor"]),
            (ONLY_FIRST["facecolor"], style.PAPER),
        ],
    )
    def test_neighbours_are_told_apart_by_all_eyes(self, vision, neighbours):
        one, other = (lab(colour, vision) for colour in neighbours)
        # 2.3 is a just noticeable difference (M. Mahy et al., Color Res. Appl. 19, 1994).
        assert np.linalg.norm(one - other) > 4 * 2.3

    def test_bands_differ_in_lightness_alone(self):
        lightness = [lab(colour)[0] for colour in BANDS]
        assert all(lighter - darker > 12 for darker, lighter in itertools.pairwise(lightness))
        for one, other in (
            (DARK_FILL["facecolor"], WAKING_FILL["facecolor"]),
            (WAKING_FILL["facecolor"], style.PAPER),
            (ONLY_FIRST["facecolor"], ONLY_SECOND["facecolor"]),
        ):
            assert abs(lab(one)[0] - lab(other)[0]) > 20

    def test_the_doors_edge_is_seen_on_every_band(self):
        for band in BANDS:
            # Dark within a light casing: one of them stands out.
            assert max(contrast(style.INK, band), contrast(style.PAPER, band)) > 3
            assert contrast(style.DOOR["edgecolor"], style.DOOR_CASING["edgecolor"]) > 10

    def test_looks_differ_by_more_than_colour(self):
        assert ONLY_FIRST["hatch"]
        assert "hatch" not in ONLY_SECOND
        picture = draw_comparison(
            compare_plans(*[demo_plan("alder-row", *RANGES["three days"])] * 2, "a", "b")
        )
        first, second = (Drawn(picture).patches_of(f"open-{n}")[0] for n in ("first", "second"))
        assert first.get_linestyle() != second.get_linestyle()

    def test_text_has_contrast(self):
        for picture in pictures("alder-row", *RANGES["a year"]).values():
            for text in picture.texts:
                assert contrast(text.get_color(), style.PAPER) > 4.5
            assert to_rgba(picture.get_facecolor()) == to_rgba(style.PAPER)


class TestCommand:
    @pytest.mark.parametrize("form", FORMS)
    @pytest.mark.parametrize("picture", ["year", "nights", "compare"])
    def test_draws_and_draws_again(self, daylatch, alder_row, form, picture):
        more = ["--with", "close.offset_min=35"] if picture == "compare" else []
        words = ("draw", "--picture", picture, "--year", "2027", "-o", f"x.{form.upper()}", *more)
        done = daylatch(*words)
        assert (done.status, done.out) == (0, "")
        assert done.err == f"wrote x.{form.upper()}: 2027-01-01 to 2027-12-31\n"
        assert wrote(Path(f"x.{form.upper()}").read_bytes(), form)
        assert daylatch(*words).err == f"x.{form.upper()}: already up to date\n"

    def test_compares_with_another_file(self, daylatch, alder_row):
        other = alder_row.with_name("other.toml")
        other.write_text(alder_row.read_text().replace("offset_min = 15", "offset_min = 45"))
        done = daylatch(
            *("draw", "site.toml", "other.toml", "--picture", "compare", "-o", "x.svg"),
            *("--year", "2027"),
        )
        assert done.status == 0, done.err
        assert b"site.toml" in Path("x.svg").read_bytes()

    def test_today_comes_from_the_stamp_where_that_is_set(self, daylatch, alder_row, monkeypatch):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", JUNE_14)
        assert daylatch("draw", "--year", "2027", "-o", "x.svg").status == 0
        assert b"today, 14 Jun 2027" in Path("x.svg").read_bytes()

    @pytest.mark.parametrize(
        ("words", "message"),
        [
            ([], "say where the picture goes, such as -o year.svg (or .png, .pdf)"),
            (["--picture", "nights"], "such as -o nights.svg"),
            (
                ["-o", "x.gif"],
                "x.gif: the end of the name says what is written: draw writes .svg, .png or .pdf",
            ),
            (["-o", "x"], "draw writes .svg, .png or .pdf"),
            (
                ["--picture", "moon", "-o", "x.svg"],
                '--picture is "moon": write one of year, nights, compare',
            ),
            (["--with", "close.offset_min=3", "-o", "x.svg"], "--with is for comparisons"),
            (["site.toml", "b.toml", "-o", "x.svg"], "b.toml is for comparisons"),
            (["--picture", "compare", "-o", "x.svg"], "say what to compare with"),
            (
                ["--from", "2027-01-01", "--until", "2032-12-31", "-o", "x.svg"],
                "2027-01-01 to 2032-12-31 are 2192 days, too many for one picture: ask for 1830",
            ),
        ],
    )
    def test_what_it_cannot_draw_is_one_clear_message(self, daylatch, alder_row, words, message):
        done = daylatch("draw", *words)
        assert done.status == 2
        assert message in done.err
        assert done.err.count("\n") == 1
        assert sorted(path.name for path in Path().iterdir()) == ["site.toml"]

    def test_other_peoples_files_are_left_alone(self, daylatch, alder_row):
        for form in FORMS:
            Path(f"x.{form}").write_bytes(b"mine")
            done = daylatch("draw", "--year", "2027", "-o", f"x.{form}")
            assert done.status == 6
            assert "--force" in done.err
            assert Path(f"x.{form}").read_bytes() == b"mine"
            assert daylatch("draw", "--year", "2027", "-o", f"x.{form}", "--force").status == 0

    def test_a_folder_that_does_not_exist(self, daylatch, alder_row):
        done = daylatch("draw", "--year", "2027", "-o", "nowhere/x.svg")
        assert done.status == 6
        assert "cannot be written" in done.err

    def test_without_matplotlib_it_says_what_to_install(self, alder_row):
        code = (
            "import sys\nsys.modules['matplotlib'] = None\nfrom daylatch.__main__ import run\n"
            "sys.exit(run(['draw', 'site.toml', '--year', '2027', '-o', 'x.svg']))"
        )
        done = subprocess.run(
            [sys.executable, "-c", code],
            cwd=alder_row.parent,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 6
        assert done.stderr == (
            "daylatch: pictures and pages need more libraries: pip install 'daylatch[pictures]'\n"
        )

    def test_no_windows_and_no_second_interface_are_loaded(self, alder_row):
        code = (
            "import sys\nfrom daylatch.__main__ import run\n"
            "assert run(['draw', 'site.toml', '--year', '2027', '-o', 'x.svg']) == 0\n"
            "print(*sys.modules)"
        )
        done = subprocess.run(
            [sys.executable, "-c", code],
            cwd=alder_row.parent,
            capture_output=True,
            text=True,
            check=True,
        )
        loaded = set(done.stdout.split())
        assert "matplotlib.backends.backend_svg" in loaded
        assert not loaded & {"matplotlib.pyplot", "tkinter", "PyQt6", "pandas", "scipy"}


def test_texts_are_drawn_with_the_font_that_comes_with_matplotlib():
    # Another of its name on the computer numbers its glyphs otherwise, and a picture names them so.
    picture = draw_year(exactly(plan_of(UTRECHT, "2027-01-01", "2027-12-31")))
    files = {text.get_fontproperties().get_file() for text in picture.texts}
    assert len(files) == 2
    assert all(Path(file).is_relative_to(mpl.get_data_path()) for file in files)
