"""The card by the door: its rows, and the page in PDF and in a real browser."""

from __future__ import annotations

import datetime as dt
import re
import sys
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as pdfium_c
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import DoorClock
from daylatch.door.works.rows import RowsOf
from daylatch.errors import OutputError, UsageError
from daylatch.paper.card import CLOCK_MARK, make_card
from daylatch.paper.pages import card_html, card_pdf
from daylatch.paper.pages.card_columns import SMALLEST
from daylatch.paper.pages.card_layout import MARGIN, PEN_LINE
from daylatch.paper.pages.papers import PAPERS
from daylatch.paper.pages.ruler import Ruler, new_document
from daylatch.paper.pages.templates import get_template
from daylatch.paper.sitter import make_sheet
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site
from peers.browser import CHROMIUM, running
from programs import reason
from sites import (
    FALLBACKS,
    ID,
    KIRITIMATI,
    LONGYEARBYEN,
    LORD_HOWE,
    TAMPERE,
    UTRECHT,
    Spot,
    plan,
    site,
)

MADE = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)
MINUTE = np.timedelta64(1, "m")
BODO = Spot(67.28, 14.4, "Europe/Oslo")
REASONS = '[card]\nshow = ["reasons"]\n'
SHUT = '[[span]]\nfrom = 2027-02-08\nuntil = 2027-02-21\nreason = "a storm"\nshut = true\n'
YOUNG = (
    '[[span]]\nfrom = 2027-05-12\nuntil = 2027-05-20\nreason = "young birds"\nclose.offset_min=40\n'
)
HOSTILE = "<script>document.title='taken'</script> $x^2$ **bold** __u__ {nb} {{ 7*7 }} & \"q\""
LETTERS = "🐔 鶏小屋 שלום עולם 123 مرحبا Ørsta ψ Ж"


def year_card(spot=UTRECHT, text="", rows_of=RowsOf.WEEKS):
    return make_card(exactly(plan(spot, "2027-01-01", "2027-12-31", FALLBACKS + text)), rows_of)


def full_house():
    """Return a site of which all texts are as long as they may be, with over 60 rows."""
    hand = ("Lift the latch, pull the cord to the second knot and tie it to the hook. " * 12)[:800]
    call = ("Next door: ring twice. Vet: the number is on the feed bin. " * 6)[:300]
    spans = "".join(
        f"[[span]]\nfrom = 2027-{month:02d}-10\nuntil = 2027-{month:02d}-14\n"
        f'reason = "a reason of some length, number {month}"\nclose.offset_min = 20\n'
        for month in range(1, 5)
    )
    spans += (
        f'[[span]]\nfrom = 2027-08-10\nuntil = 2027-08-12\nreason = "{"Q" * 200}"\nshut = true\n'
    )
    text = '[close]\nfallback = "22:30"\nnot_after = "22:30"\n[door]\nclock = "utc"\n'
    text += f'{REASONS}by_hand = """{hand}"""\ncall = """{call}"""\n{spans}'
    return site(BODO, '[open]\nfallback = "05:30"\n' + text, name="W" * 100)


def hostile_house():
    by_hand = f"{HOSTILE}\n{LETTERS}\n**end**"
    return read_site(
        f"id = '{ID}'\nname = '''{HOSTILE.replace('taken', 'x')[:99]}'''\n"
        f"notes = '''{HOSTILE}\n**end**'''\n"
        "[place]\nlatitude = 52\nlongitude = 5\nzone = 'Europe/Amsterdam'\n"
        "[card]\nshow = ['reasons', 'place', 'notes']\n"
        f"by_hand = '''{by_hand}'''\ncall = '''{HOSTILE}'''\n"
        "[[span]]\nfrom = 2027-03-01\nuntil = 2027-03-09\nshut = true\n"
        "reason = '<b>$r$</b> **x**'\n"
        "[[span]]\nfrom = 2027-04-01\nuntil = 2027-04-09\nreason = '<i>שלום</i>'\n"
        "open.offset_min = 3\n",
        "test.toml",
    )


def month_card(text):
    return make_card(exactly(plan(UTRECHT, "2027-05-01", "2027-05-31", text)), RowsOf.DAYS)


def card_of(house, rows_of=RowsOf.WEEKS, first="2027-01-01", last="2027-12-31"):
    return make_card(
        exactly(make_plan(house, dt.date.fromisoformat(first), dt.date.fromisoformat(last))),
        rows_of,
    )


IN_12_HOURS = '[writing]\nclock = "12h"\nunits = "us"\nweek_begins = "sunday"\n'
REPORTED = """\
[card]
by_hand = "Pull the cord and hook it over the nail."
call = "Robin, 555-0142"
report = "Text: all in."
[flock]
birds = 12
"""
LONG_WORDS = "[flock]\nbirds = 12\n[card]\n" + "".join(
    f'{key} = "{("Some more words on that. " * 20)[:most]}"\n'
    for key, most in (("by_hand", 240), ("call", 100), ("if_missing", 100), ("if_hurt", 100))
)


def short_card(first, last, text=""):
    return make_card(exactly(plan(UTRECHT, first, last, text)), RowsOf.DAYS)


def sheet_of(text, first="2027-03-20", last="2027-04-02", spot=UTRECHT):
    fallbacks = FALLBACKS if spot is TAMPERE else ""
    return make_sheet(exactly(plan(spot, first, last, fallbacks + text)), "Sam")


def labels(card):
    return [row.label.replace("\N{EN DASH}", "-") for row in card.rows]


def row_of(card, date):
    wanted = dt.date.fromisoformat(date)
    return next(row for row in card.rows if row.first <= wanted <= row.last)


# --- the rows -------------------------------------------------------------------------------


def test_weeks_run_from_monday_to_sunday_and_break_at_a_clock_change():
    card = year_card()
    assert labels(card)[:3] == ["1-3 Jan", "4-10 Jan", "11-17 Jan"]
    spring = [row for row in card.rows if row.first.isoformat()[:7] == "2027-03"]
    assert [(row.first.day, row.last.isoformat()) for row in spring][-3:] == [
        (22, "2027-03-27"),
        (28, "2027-03-28"),
        (29, "2027-04-04"),
    ]
    assert [row.marks for row in spring][-3:] == [(), (CLOCK_MARK,), ()]
    assert (CLOCK_MARK, "2027-03-28 forward 1 h 00 min (02:00 becomes 03:00)") in card.marks


def test_a_year_is_written_where_the_card_passes_into_it():
    card = make_card(exactly(plan(UTRECHT, "2026-12-21", "2027-01-17")), RowsOf.WEEKS)
    assert labels(card) == [
        "21-27 Dec 2026",
        "28-31 Dec",
        "1-3 Jan 2027",
        "4-10 Jan",
        "11-17 Jan",
    ]


def test_months_have_their_names_and_parts_of_months_their_dates():
    card = year_card(rows_of=RowsOf.MONTHS)
    assert labels(card)[:4] == ["January", "February", "1-27 Mar", "28-31 Mar"]
    assert labels(card)[-3:] == ["31 Oct", "November", "December"]
    assert "moves before its planned minute" not in card.how_to_read
    assert "up to as many minutes before these" in card.how_to_read


def test_a_row_gives_the_latest_times_and_how_late_they_are():
    # By hand from the plan: opening falls through the week, closing rises.
    made = plan(UTRECHT, "2027-02-01", "2027-02-07")
    (row,) = make_card(exactly(made), RowsOf.WEEKS).rows
    wall = made.on_wall(made.open_utc).wall, made.on_wall(made.close_utc).wall
    assert str(row.times.open) == str(wall[0][0])[11:]
    assert str(row.times.close) == str(wall[1][-1])[11:]
    opens = [int(time[11:13]) * 60 + int(time[14:]) for time in map(str, wall[0])]
    closes = [int(time[11:13]) * 60 + int(time[14:]) for time in map(str, wall[1])]
    assert row.times.late_min == max(opens[0] - opens[-1], closes[-1] - closes[0]) > 5


def test_days_shut_by_a_span_are_one_row_with_its_reason():
    card = year_card(text=REASONS + SHUT)
    row = row_of(card, "2027-02-10")
    assert (row.first.isoformat(), row.last.isoformat()) == ("2027-02-08", "2027-02-21")
    assert row.times is None
    assert row.shut == "shut all day: a storm"


def test_a_shut_span_in_the_middle_of_a_week_breaks_it():
    card = year_card(text=SHUT.replace("02-08", "02-10").replace("02-21", "02-11"))
    assert labels(card)[6:9] == ["8-9 Feb", "10-11 Feb", "12-14 Feb"]


def test_rows_break_where_a_span_begins_and_ends_and_point_to_its_reason():
    card = year_card(text=REASONS + YOUNG)
    assert [label for label in labels(card) if label.endswith("May")][2:6] == [
        "10-11 May",
        "12-16 May",
        "17-20 May",
        "21-23 May",
    ]
    assert row_of(card, "2027-05-11").marks == ()
    assert row_of(card, "2027-05-12").marks == ("a",)
    assert ("a", "12\N{EN DASH}20 May: young birds") in card.marks


def test_dark_days_are_shut_and_say_so():
    row = row_of(year_card(LONGYEARBYEN), "2027-12-20")
    assert (row.shut, row.last.isoformat()) == ("shut all day: dark", "2027-12-31")


def test_a_row_does_not_reach_from_light_to_a_fallback_if_that_makes_it_later():
    made = plan(BODO, "2027-05-01", "2027-08-31", FALLBACKS)
    begun = made.decisions.close.started_by
    leaps = made.dates[1:][begun[1:] != begun[:-1]]
    assert len(leaps) == 2
    starts = {row.first for row in make_card(exactly(made), RowsOf.WEEKS).rows}
    assert {leap.item() for leap in leaps} <= starts


def test_a_closing_after_midnight_is_of_the_next_day():
    card = year_card(TAMPERE)
    late = [row.times.close for row in card.rows if row.times.close.days_after == 1]
    assert late
    assert {time.day_note for time in late} == {"next day"}
    assert all(str(time) < "03:00" for time in late)
    assert not any(row.times.open.day_note for row in card.rows)


def test_a_door_in_utc_has_its_own_times_on_its_own_dates():
    card = year_card(LORD_HOWE, '[door]\nclock = "utc"\n')
    times = row_of(card, "2027-07-01").times
    # Lord Howe keeps UTC+10:30 in July (IANA time zone database).
    opens = times.open.minutes_of_day - 630
    assert times.door_open.minutes_of_day == opens % 1440
    assert (times.door_open.days_after, times.door_open.day_note) == (-1, "day before")
    assert times.door_close.days_after == 0
    assert '"-1 d" is the day before' in card.how_to_read
    assert "keeps UTC" in card.clocks
    assert "keeps UTC: leave it alone" in card.monthly_check


def test_a_standard_clock_that_must_follow_its_zone_breaks_a_row_and_is_told():
    # From 2026 on the zone keeps UTC-7 for good (IANA 2026f).
    vancouver = Spot(49.25, -123.1, "America/Vancouver")
    made = plan(vancouver, "2026-12-28", "2027-01-03", '[door]\nclock = "standard"\n')
    card = make_card(exactly(made), RowsOf.WEEKS)
    assert labels(card) == ["28-31 Dec 2026", "1-3 Jan 2027"]
    assert "Set it from UTC-08:00 to UTC-07:00 on 2027-01-01" in card.monthly_check


def test_a_month_has_a_row_a_day_with_marks():
    settings_text = FALLBACKS + REASONS + SHUT.replace("2027-02", "2027-03")
    card = make_card(exactly(plan(UTRECHT, "2027-03-01", "2027-03-31", settings_text)), RowsOf.DAYS)
    assert len(card.rows) == 31
    assert labels(card)[:2] == ["Mon 1", "Tue 2"]
    assert card.rows[27].marks == (CLOCK_MARK,)
    assert {row.shut for row in card.rows[7:21]} == {"shut all day"}
    assert {row.marks for row in card.rows[7:21]} == {("a",)}
    assert ("a", "8\N{EN DASH}21 Mar: a storm") in card.marks
    assert card.dates == "March 2027"
    assert all(row.times.late_min == 0 for row in card.rows if row.times)


def test_the_card_carries_cautions_clock_zone_rules_and_head_count():
    text = "[head_count]\nafter_close_min = 20\nsecond_pass = true\n"
    card = year_card(text=text)
    assert CAUTION in card.caution
    assert NO_WEATHER in card.caution
    assert "wall clock of Europe/Amsterdam" in card.clocks
    assert "Zone rules 2026f" in card.clocks
    assert card.head_count.startswith("Count heads 20 min after closing")
    assert "closes once more" in card.head_count
    first = card.rows[0].times
    assert first.head_count.minutes_of_day == first.close.minutes_of_day + 20


def test_it_shows_no_more_than_the_keeper_says():
    def house(show):
        text = f"[card]\nshow = {show}\n" + SHUT + YOUNG
        return card_of(site(UTRECHT, text, head='notes = "the key is under the pot"'))

    private = ("a storm", "young birds", "52.09 N", "the key is")

    def seen(card):
        said = " ".join(words_on(only_page(rendered(card))).split())
        page = card_html.render(card, PAPERS["a4"]).decode()
        found = [words in said for words in private]
        assert found == [words in page for words in private]
        return found

    assert seen(house("[]")) == [False, False, False, False]
    assert seen(house('["reasons"]')) == [True, True, False, False]
    assert seen(house('["place"]')) == [False, False, True, False]
    assert seen(house('["notes"]')) == [False, False, False, True]
    hidden = house("[]")
    assert row_of(hidden, "2027-02-10").shut == "shut all day"
    assert ("a", "12\N{EN DASH}20 May: settings of their own") in hidden.marks
    by_day = month_card(SHUT.replace("2027-02", "2027-05"))
    assert ("a", "8\N{EN DASH}21 May: shut all day") in by_day.marks


@pytest.mark.parametrize(
    ("flock", "words"),
    [
        ("[flock]\nbirds = 12\n", "Count heads: 12 birds, 15 min after closing. Are all in?"),
        ("[flock]\nbirds = 1\n", "Count heads: 1 bird, 15 min after closing. Are all in?"),
        ('[flock]\nsize = "medium"\n', "Count heads 15 min after closing: are all birds in?"),
        ("", "Count heads 15 min after closing: are all birds in?"),
    ],
)
def test_it_says_how_many_birds_to_count(flock, words):
    assert year_card(text=flock).head_count == words


def test_a_month_without_an_open_day_says_how_many_too():
    shut = SHUT.replace("02-08", "05-01").replace("02-21", "05-31")
    assert month_card("[flock]\nbirds = 12\n" + shut).head_count == (
        "Count heads at dusk: 12 birds."
    )


PLACES = [UTRECHT, LORD_HOWE, TAMPERE, BODO, LONGYEARBYEN, KIRITIMATI]
RULES = ["", "[day]\nleast_open_h = 9\n[night]\nleast_h = 8\n", SHUT + YOUNG]


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(PLACES),
    st.sampled_from(RULES),
    st.sampled_from(list(DoorClock)),
    st.sampled_from(list(RowsOf)),
    st.dates(dt.date(2027, 1, 1), dt.date(2028, 11, 1)),
    st.integers(1, 100),
)
def test_no_row_moves_the_door_early_nor_later_than_it_says(
    spot, rules, clock, rows_of, first, days
):
    house = site(spot, f'{FALLBACKS}[door]\nclock = "{clock.value}"\n{rules}')
    made = make_plan(house, first, first + dt.timedelta(days=days - 1))
    card = make_card(exactly(made), rows_of)
    covered = [
        row.first + dt.timedelta(days=day)
        for row in card.rows
        for day in range((row.last - row.first).days + 1)
    ]
    assert covered == made.dates.tolist()
    wall = [
        made.on_wall(times)
        for times in (made.open_utc, made.close_utc, exactly(made).head_count_utc)
    ]
    door = [made.on_door(times) for times in (made.open_utc, made.close_utc)]
    for row in card.rows:
        here = (made.dates >= np.datetime64(row.first)) & (made.dates <= np.datetime64(row.last))
        if row.times is None:
            assert not made.is_open[here].any()
            continue
        assert made.is_open[here].all()
        if rows_of is RowsOf.WEEKS:
            assert len({date.isocalendar()[:2] for date in made.dates[here].tolist()}) == 1
        times = row.times
        shown = [times.open, times.close, times.head_count]
        clocks = wall[:]
        if clock is not DoorClock.WALL:
            shown += [times.door_open, times.door_close]
            clocks += door
        else:
            assert times.door_open is times.door_close is None
        worst = 0
        for time, planned in zip(shown, clocks, strict=True):
            minutes = time.days_after * 1440 + time.minutes_of_day
            late = made.dates[here] + minutes * MINUTE - planned.wall[here]
            assert late.min() >= np.timedelta64(0)
            assert late.max() <= row.times.late_min * MINUTE
            # One distance from UTC within a row: on another, the same time is another instant.
            assert np.ptp(planned.offset[here]) == np.timedelta64(0)
            worst = max(worst, int(late.max() // MINUTE))
        assert worst == row.times.late_min


# --- the page as PDF ------------------------------------------------------------------------


def rendered(card, paper="a4"):
    return card_pdf.render(card, PAPERS[paper], MADE).content


def only_page(content):
    document = pdfium.PdfDocument(content)
    assert len(document) == 1
    return document[0]


def words_on(page):
    """Return the text of a page, with single spaces."""
    return " ".join(page.get_textpage().get_text_range().split())


def assert_inside(page, paper, slack=1.5):
    """Check every character against the margins; some letters, such as J, reach a point over."""
    width, height = page.get_size()
    assert (width, height) == pytest.approx((PAPERS[paper].width, PAPERS[paper].height), abs=1)
    text = page.get_textpage()
    for index in range(text.count_chars()):
        if text.get_text_range(index, 1).isspace():
            continue  # hangs over where a line was broken
        left, bottom, right, top = text.get_charbox(index)
        assert left >= MARGIN - slack
        assert right <= width - MARGIN + slack
        assert bottom >= MARGIN - slack
        assert top <= height - MARGIN + slack


def text_objects(page):
    return list(page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_TEXT]))


def overlap(one, other):
    return min(one[2], other[2]) - max(one[0], other[0]), min(one[3], other[3]) - max(
        one[1], other[1]
    )


# The words of the template, at a place whose rows fill the page.
SOUTHERN = Spot(-43.6, 172.6, "Pacific/Auckland")
OWN_WORDS = """[card]
by_hand = "Pull the cord down and hook it in; the key hangs inside the feed bin."
call = "Name, telephone"
[[span]]
from = 2027-03-01
until = 2027-03-09
reason = "housing order"
shut = true
"""

CARDS = {
    "plain": lambda: year_card(text=SHUT + YOUNG),
    "own words": lambda: year_card(SOUTHERN, OWN_WORDS),
    "months": lambda: year_card(rows_of=RowsOf.MONTHS),
    "days": lambda: make_card(
        exactly(plan(UTRECHT, "2027-05-01", "2027-05-31", YOUNG)), RowsOf.DAYS
    ),
    "polar": lambda: year_card(LONGYEARBYEN),
    "past midnight, door in UTC": lambda: year_card(TAMPERE, '[door]\nclock = "utc"\n'),
    "door a day behind": lambda: year_card(LORD_HOWE, '[door]\nclock = "utc"\n'),
    "one day": lambda: make_card(exactly(plan(UTRECHT, "2027-05-01")), RowsOf.WEEKS),
    "full": lambda: card_of(full_house()),
    "over a month's end, by 12 hours": lambda: short_card("2027-04-22", "2027-05-12", IN_12_HOURS),
    "sheet": lambda: sheet_of(REPORTED),
    "sheet by 12 hours": lambda: sheet_of(IN_12_HOURS + REPORTED),
    "sheet of 31 days with long words": lambda: sheet_of(LONG_WORDS, last="2027-04-19"),
    "sheet with shut days": lambda: sheet_of(
        IN_12_HOURS + REASONS + "[[span]]\nfrom = 2027-03-22\nuntil = 2027-03-24\nshut = true\n"
        'reason = "a housing order that is told in some more words than a row has"\n'
    ),
    "sheet past midnight": lambda: sheet_of(IN_12_HOURS, "2027-06-10", "2027-06-20", TAMPERE),
    "hostile": lambda: card_of(hostile_house()),
}


@cache
def card_named(name):
    """Return a card of `CARDS`, made once: it is frozen."""
    return CARDS[name]()


@cache
def pdf_of(name, paper="a4"):
    """Return such a card as PDF, made once."""
    return rendered(card_named(name), paper)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", CARDS)
def test_the_pdf_is_one_page_with_everything_inside_and_nothing_over_another(name, paper):
    page = only_page(pdf_of(name, paper))
    assert_inside(page, paper)
    boxes = [thing.get_bounds() for thing in text_objects(page)]
    for one, other in combinations(boxes, 2):
        across, down = overlap(one, other)
        assert across <= 0.3 or down <= 0.3
    strokes = [
        thing.get_bounds() for thing in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_PATH])
    ]
    for left, bottom, right, top in strokes:
        if right - left < 3:
            assert not any(
                overlap((left, bottom, right, top), box)[0] > 0.3
                and overlap((left, bottom, right, top), box)[1] > 0.3
                for box in boxes
            )


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", CARDS)
def test_no_part_of_the_page_is_left_empty(name, paper):
    """The largest empty band, between any two things, is less than the room for notes by pen."""
    page = only_page(pdf_of(name, paper))
    kinds = [pdfium_c.FPDF_PAGEOBJ_PATH, pdfium_c.FPDF_PAGEOBJ_TEXT]
    bands = sorted(thing.get_bounds()[1::2] for thing in page.get_objects(filter=kinds))
    reached, widest = bands[0][1], 0.0
    for bottom, top in bands:
        widest = max(widest, bottom - reached)
        reached = max(reached, top)
    assert widest < 3 * PEN_LINE


@pytest.mark.parametrize("name", CARDS)
def test_no_text_is_smaller_than_promised_and_all_fonts_are_embedded(name):
    page = only_page(pdf_of(name))
    things = text_objects(page)
    assert things
    for thing in things:
        size = pdfium_c.c_float()
        assert pdfium_c.FPDFTextObj_GetFontSize(thing, size)
        assert size.value >= SMALLEST - 0.01
        font = pdfium_c.FPDFTextObj_GetFont(thing)
        assert pdfium_c.FPDFFont_GetIsEmbedded(font) == 1


@pytest.mark.parametrize("name", ["plain", "months", "days", "polar", "full"])
def test_every_row_is_on_the_page(name):
    card = card_named(name)
    words = words_on(only_page(pdf_of(name)))
    for row in card.rows:
        if row.times is None:
            assert f"{row.label} {' '.join(row.marks)}".strip() in words
            continue
        parts = [row.label, *row.marks, str(row.times.open), str(row.times.close)]
        assert " ".join(parts) in words
    assert words.count("shut all day") == sum(row.times is None for row in card.rows)
    for text in (card.how_to_read, card.head_count, card.caution, card.clocks):
        assert text in words


def test_over_sixty_rows_and_the_longest_texts_are_all_there():
    card = card_named("full")
    assert len(card.rows) > 60
    words = words_on(only_page(pdf_of("full", "letter"))).replace(" ", "")
    for text in ("W" * 100, *(box.own for box in card.boxes), "Q" * 200):
        assert text.replace(" ", "") in words


def test_where_the_keeper_gave_no_words_there_are_lines_to_write_on():
    def rules(card):
        page = only_page(rendered(card))
        things = page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_PATH])
        bounds = [thing.get_bounds() for thing in things]
        # Below the rows and their last line.
        return sum(1 for left, _, right, _ in bounds if 150 < right - left < 330)

    empty = make_card(exactly(plan(UTRECHT, "2027-01-04", "2027-01-10")), RowsOf.WEEKS)
    words = '[card]\nby_hand = "pull"\ncall = "me"\n'
    filled = make_card(exactly(plan(UTRECHT, "2027-01-04", "2027-01-10", words)), RowsOf.WEEKS)
    assert rules(empty) == rules(filled) + 6


def test_the_same_card_gives_the_same_bytes():
    card = year_card()
    content = rendered(card)
    assert content == rendered(card)
    later = card_pdf.render(card, PAPERS["a4"], MADE + dt.timedelta(days=1)).content
    assert later != content


def test_keepers_text_is_no_markup_in_the_pdf():
    card = card_named("hostile")
    made = card_pdf.render(card, PAPERS["a4"], MADE)
    words = words_on(only_page(made.content))
    for text in ("**bold**", "__u__", "{nb}", "{{ 7*7 }}", "$x^2$", "<script>", "<b>$r$</b> **x**"):
        assert text in words
    # The other alphabets of the text are in the font.
    assert made.unknown == sorted("🐔鶏小屋")
    assert "Ørsta ψ Ж" in words


@pytest.mark.parametrize("text", ["{nb} " * 60, HOSTILE * 5, LETTERS * 9, "W" * 200, "a\n\nb"])
def test_no_broken_line_is_wider_than_its_room(text):
    with new_document(PAPERS["a4"]) as document:
        ruler = Ruler(document)
        lines = ruler.lines(text, 10, 200)
        assert len(lines) > 2
        for line in lines:
            assert sum(ruler.width(character, 10) for character in line.rstrip()) <= 200.01


def test_letters_that_run_from_right_to_left_are_painted_that_way():
    house = site(UTRECHT, '[card]\nby_hand = "אבג"\ncall = "abc"\n')
    page = only_page(rendered(card_of(house, first="2027-01-01", last="2027-01-03")))
    text = page.get_textpage()
    lefts = {}
    for index in range(text.count_chars()):
        character = text.get_text_range(index, 1)
        if character in "אבג":
            lefts[character] = text.get_charbox(index)[0]
    assert lefts["א"] > lefts["ב"] > lefts["ג"]


# --- the page in a browser ------------------------------------------------------------------


@pytest.fixture(scope="module")
def chromium():
    """Return a running headless Chromium."""
    if CHROMIUM is None:
        pytest.skip(reason("chromium"))
    return running()


@pytest.fixture
def open_card(chromium, tmp_path):
    """Return a function that opens a card; it must ask for nothing and say nothing."""
    opened = []

    def show(card, paper="a4", width=1000):
        file = tmp_path / "card.html"
        file.write_bytes(card_html.render(card, PAPERS[paper]))
        page = chromium.new_page(viewport={"width": width, "height": 800})
        opened.append((page, asked := [], said := []))
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(file.as_uri())
        return page

    yield show
    for page, asked, said in opened:
        page.close()
        assert [url.rpartition("/")[2] for url in asked] == ["card.html"]
        assert said == []


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", CARDS)
def test_the_html_prints_on_one_page_with_everything_inside(open_card, name, paper):
    page = open_card(card_named(name), paper)
    page.emulate_media(media="print")
    # Nothing is cut: no cell or box holds more than it shows.
    wide = page.evaluate(
        "[...document.querySelectorAll('.sheet, .sheet *:not(caption, col, colgroup)')]"
        ".filter(e => e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0)"
        ".map(e => e.outerHTML.slice(0, 80))"
    )
    assert wide == []
    printed = only_page(page.pdf(prefer_css_page_size=True))
    assert_inside(printed, paper)
    named = only_page(page.pdf(format="A4" if paper == "a4" else "Letter"))
    assert_inside(named, paper)


def test_the_html_has_every_row_with_its_heads(open_card):
    card = year_card(text=SHUT + YOUNG)
    page = open_card(card)
    rows = page.locator("tbody tr").all_inner_texts()
    assert len(rows) == len(card.rows)
    for row, text in zip(card.rows, rows, strict=True):
        cells = text.split("\t")
        assert cells[0] == row.label
        if row.times is None:
            assert cells[-1] == row.shut
        else:
            assert str(row.times.open) in cells
            assert str(row.times.close) in cells
            assert cells[-1] == str(row.times.late_min)
    assert page.locator("tbody th[scope=row]").count() == len(card.rows)
    assert page.locator("thead th[scope=col]").count() == 2 * 6
    assert page.locator("h1").inner_text() == card.name
    assert page.locator(".caution").inner_text() == card.caution


def test_keepers_text_is_text_in_the_browser(open_card):
    card = card_named("hostile")
    page = open_card(card)
    assert page.locator("h1").inner_text() == card.name
    assert page.locator(".own").all_inner_texts() == [*(box.own for box in card.boxes), card.notes]
    assert page.locator("script, .own *, i, td b").count() == 0
    assert page.title().startswith("<script>")
    assert "<b>$r$</b> **x**" in page.locator("td.shut").first.inner_text()


def test_the_html_can_be_read_on_a_telephone(open_card):
    page = open_card(card_named("full"), width=390)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_html_escapes_and_undefined_names_are_errors():
    assert b"<script>" not in card_html.render(card_named("hostile"), PAPERS["a4"])
    with pytest.raises(Exception, match="undefined"):
        get_template("card.html").render()


# --- the command ----------------------------------------------------------------------------


def test_the_command_writes_both_forms(daylatch, alder_row):
    for name in ("card.pdf", "card.html"):
        done = daylatch("card", "--year", "2027", "-o", name)
        assert (done.status, done.out) == (0, "")
        assert done.err == f"wrote {name}: 2027-01-01 to 2027-12-31\n"
    assert "Alder Row (demo)" in words_on(only_page(Path("card.pdf").read_bytes()))


def test_the_same_command_gives_the_same_file(daylatch, alder_row, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1800000000")
    for name in ("card.pdf", "card.html"):
        assert daylatch("card", "--year", "2027", "-o", name).status == 0
        again = daylatch("card", "--year", "2027", "-o", name)
        assert again.err == f"{name}: already up to date\n"


def test_without_dates_the_card_is_of_the_next_365_days(daylatch, alder_row):
    done = daylatch("card", "--rows", "months", "-o", "card.html")
    assert done.status == 0
    first, last = map(dt.date.fromisoformat, re.findall(r"\d{4}-\d\d-\d\d", done.err))
    assert (last - first).days == 364


def test_a_month_is_a_range_of_its_own(daylatch, alder_row):
    done = daylatch("card", "--month", "2028-02", "--paper", "letter", "-o", "card.pdf")
    assert done.err == "wrote card.pdf: 2028-02-01 to 2028-02-29\n"
    page = only_page(Path("card.pdf").read_bytes())
    assert page.get_size() == pytest.approx((612, 792), abs=0.1)
    assert "Door times, February 2028" in words_on(page)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ["-o", "card.txt"],
            "card.txt: the end of the name says what is written: card writes .pdf or .html",
        ),
        (["-o", "card"], "card: the end of the name says"),
        ([], "say where the card goes, such as -o card.pdf (or .html)"),
        (["--rows", "days", "-o", "c.pdf"], '--rows is "days": write weeks or months'),
        (["--paper", "a3", "-o", "c.pdf"], '--paper is "a3": write a4 or letter'),
        (["--month", "2027-13", "-o", "c.pdf"], '--month is "2027-13": write a month like 2027-01'),
        (["--month", "0000-01", "-o", "c.pdf"], '--month is "0000-01": write a month like 2027-01'),
        (["--month", "May", "-o", "c.pdf"], '--month is "May": write a month like 2027-01'),
        (["--month", "2027-01", "--year", "2027", "-o", "c.pdf"], "--month brings its own dates"),
        (["--month", "2027-01", "--from", "2027-01-01", "-o", "c.pdf"], "leave out --year, --from"),
        (["--month", "2027-01", "--rows", "months", "-o", "c.pdf"], "--month has a row a day"),
        (["--from", "2027-01-01", "--until", "2029-12-31", "-o", "c.pdf"], "do not fit one page"),
    ],
)
def test_what_the_command_cannot_take_is_one_message(daylatch, alder_row, arguments, message):
    done = daylatch("card", *arguments)
    assert done.status == 2
    assert done.err.startswith("daylatch: ")
    assert done.err.count("\n") == 1
    assert message in done.err
    assert [path.name for path in alder_row.parent.iterdir()] == ["site.toml"]


def test_words_that_do_not_fit_are_named(daylatch, alder_row):
    text = alder_row.read_text() + '\n[card]\nby_hand = """' + "a\n" * 390 + '"""\n'
    alder_row.write_text(text)
    done = daylatch("card", "--year", "2027", "-o", "card.pdf")
    assert done.status == 2
    assert "new lines in by_hand and call" in done.err
    assert "--rows months" in done.err
    assert not Path("card.pdf").exists()


@pytest.mark.parametrize("name", ["card.pdf", "card.html"])
def test_only_its_own_file_is_replaced(daylatch, alder_row, name):
    strange = b"%PDF-1.3 somebody else's" if name.endswith("pdf") else b"<html>somebody else's"
    Path(name).write_bytes(strange)
    done = daylatch("card", "--month", "2027-01", "-o", name)
    assert done.status == OutputError.exit_status
    assert Path(name).read_bytes() == strange
    assert daylatch("card", "--month", "2027-01", "-o", name, "--force").status == 0
    assert daylatch("card", "--month", "2027-02", "-o", name).status == 0


def test_characters_that_the_font_lacks_are_one_warning(daylatch, alder_row):
    alder_row.write_text(alder_row.read_text().replace("Alder Row (demo)", "鶏 and 🐔"))
    done = daylatch("card", "--month", "2027-01", "-o", "card.pdf")
    assert done.status == 0
    warnings = [line for line in done.err.splitlines() if line.startswith("warning")]
    assert len(warnings) == 1
    assert "鶏 (U+9D8F CJK UNIFIED IDEOGRAPH-9D8F), 🐔 (U+1F414 CHICKEN)" in warnings[0]
    assert "\N{WHITE SQUARE} and \N{WHITE SQUARE}" in words_on(
        only_page(Path("card.pdf").read_bytes())
    )
    done = daylatch("card", "--month", "2027-01", "-o", "card.html")
    assert "warning" not in done.err
    assert "鶏 and 🐔" in Path("card.html").read_text()


@pytest.mark.parametrize("library", ["fpdf", "jinja2", "matplotlib"])
def test_missing_libraries_are_told(daylatch, alder_row, monkeypatch, library):
    monkeypatch.setitem(sys.modules, library, None)
    done = daylatch("card", "--year", "2027", "-o", "card.pdf")
    assert done.status == OutputError.exit_status
    assert done.err == (
        "daylatch: pictures and pages need more libraries: pip install 'daylatch[pictures]'\n"
    )


def test_too_long_a_range_says_so_before_anything_is_written():
    card = make_card(exactly(plan(UTRECHT, "2027-01-01", "2031-06-30")), RowsOf.WEEKS)
    with pytest.raises(UsageError, match="fit one page of US Letter"):
        card_html.render(card, PAPERS["letter"])


WHITE_NIGHTS = '[open]\nfallback = "05:30"\n[close]\nfallback = "22:30"\n'


def test_days_without_the_light_are_marked():
    card = make_card(exactly(plan(TAMPERE, "2027-05-01", "2027-08-20", WHITE_NIGHTS)), RowsOf.WEEKS)
    marked = [row for row in card.rows if "~" in row.marks]
    assert 0 < len(marked) < len(card.rows)
    assert "22:30" in {str(row.times.close) for row in marked}
    assert [text for mark, text in card.marks if mark == "~"] == [
        "days without the light that the door follows: your clock time holds"
    ]
    assert not any(mark == "~" for mark, _ in year_card().marks)


def test_a_card_does_not_tell_from_its_rows_when_the_keeper_is_away():
    span = "[[span]]\nfrom = 2027-03-10\nuntil = 2027-03-18\naway = true\n"
    plain, away = year_card(), year_card(text=span)
    assert (labels(away), away.marks) == (labels(plain), plain.marks)
    # A reason that may be shown is; and what changes the door parts rows.
    shown = year_card(text=REASONS + span + 'reason = "the coast"\n')
    assert any("the coast" in text for _, text in shown.marks)
    assert labels(year_card(text=span + "close.offset_min = 30\n")) != labels(plain)
