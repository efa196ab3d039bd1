"""The report: one page of everything about a site's year, which needs nothing from outside.

In print it is several sheets, of A4 or US Letter.
"""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import TYPE_CHECKING

import daylatch
from daylatch.arrays import HOUR
from daylatch.birds.daylength.text import day_length_entries
from daylatch.birds.fit.fit import LOCAL_LAW, check_fit
from daylatch.birds.fit.stays import Case
from daylatch.birds.fit.text import (
    NOTHING_KNOWN,
    describe_house,
    describe_needs,
    describe_stays,
    in_short,
    section_title,
)
from daylatch.birds.nights.text import nights_entries
from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.clock import zone_rules_version
from daylatch.files.own import page_is_by
from daylatch.paper.pages.page_parts import (
    Chart,
    Column,
    Entries,
    PageTable,
    Paragraph,
    Part,
    Section,
)
from daylatch.paper.pages.papers import css_of
from daylatch.paper.pages.report_lists import lamp_list, timer_list
from daylatch.paper.pages.report_times import door_times
from daylatch.paper.pages.templates import get_template
from daylatch.paper.pictures import svg
from daylatch.paper.pictures.nights import draw_nights
from daylatch.paper.pictures.year import draw_year
from daylatch.plan.due_words import due_notes
from daylatch.plan.summary import describe_clocks, describe_place, describe_rules, summary_entries
from daylatch.wording import FACE_24_HOURS, hours_text, setting_text

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence

    from daylatch.birds.daylength.daylength import DayLengths
    from daylatch.birds.fit.fit import Fit
    from daylatch.birds.fit.line import Line
    from daylatch.birds.lamp_list.lamp_list import LampList
    from daylatch.birds.nights.summary import NightsSummary
    from daylatch.birds.sunlight.sunlight import Sunlight
    from daylatch.door.timer.timer_list import TimerList
    from daylatch.paper.pictures.style import Picture
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Span
    from daylatch.site.values.measures import Measures

GENERATOR = "daylatch report"
wrote = page_is_by(GENERATOR)
# CSS counts 96 pixels an inch.
_CSS_PX_PER_IN = 96
_NUMBER, _LONG, _DATE = "number", "long", "date"
_LOCK_IN = "A lock-in is the time from one closing of the door to its next opening."
_GUARD = (
    "The guard is a light in the twilight past which no day is widened, because predators hunt "
    "there."
)
_MONTH_TITLES = (
    "Begun",
    "Shortest",
    "Median",
    "Longest",
    "Long",
    "Door shut in all",
    "of which awake",
    "Days shut all day",
)


@dataclass(frozen=True)
class Report:
    """What the page says."""

    name: str
    place: str
    first: str
    last: str
    clocks: str
    zone_rules: str
    caution: str
    footer: str
    sections: list[Section]


_FIT_COLUMNS = (
    Column("Requirement"),
    Column("Verdict", "verdict"),
    Column("Found", _LONG),
    Column("Norm", _LONG),
    Column("What to know", _LONG),
)


def render(
    summary: NightsSummary,
    day_lengths: DayLengths,
    today: dt.date | None,
    door_timer: TimerList | None = None,
    lamp_timer: LampList | None = None,
    more: Sequence[tuple[str, str]] = (),
    sunlight: Sunlight | None = None,
) -> bytes:
    """Return the page: HTML that fetches nothing.

    Parameters
    ----------
    summary
        The lock-ins of the plan.
    day_lengths
        The same plan's days for laying.
    today
        Marked in the picture of the year.
    door_timer, lamp_timer
        The lists that timers are set by, if there are such timers.
    more
        Sentences for the summary, each with a label: when the birds go in by the diary, and what is
        known of the place.
    sunlight
        Direct sun on the days of the plan, if a skyline is known.
    """
    plan = summary.nights.plan
    report = Report(
        name=plan.site.name,
        place=describe_place(plan.site),
        first=str(plan.dates[0]),
        last=str(plan.dates[-1]),
        clocks=describe_clocks(plan),
        zone_rules=zone_rules_version(),
        caution=f"{CAUTION} {NO_WEATHER}",
        footer=f"Made by daylatch {daylatch.__version__}.",
        sections=[
            *_sections(summary, today, more, sunlight),
            *_lists(door_timer, lamp_timer),
            *_birds_and_settings(summary, day_lengths),
        ],
    )
    page = get_template("report.html").render(
        report=report,
        generator=GENERATOR,
        paper=css_of(plan.site.settings.writing.chosen_paper),
        has_wide_times=plan.site.face.width > FACE_24_HOURS.width,
    )
    return page.encode()


def _sections(
    summary: NightsSummary,
    today: dt.date | None,
    more: Sequence[tuple[str, str]],
    sunlight: Sunlight | None,
) -> Iterator[Section]:
    """Yield the year, its nights and its days.

    Each picture has only text that can break before it on its page, so that a print has no
    half-empty ones.
    """
    due = summary.nights.due
    notes = [("Due times", note) for note in due_notes(due)]
    yield Section(
        "year",
        "The year",
        [
            _chart(
                draw_year(due, today, sunlight),
                "Dates across, clock time up: night, twilight and day as bands, and over them the "
                "time during which the door is open.",
            ),
        ],
    )
    entries = [*notes, *more, *summary_entries(due)]
    # A timer's list says what the guard costs.
    tells_guard = due.plan.site.works == "timer" or any(
        "guard" in text for text in (*describe_rules(due.plan.site), *map(" ".join, entries))
    )
    words = f"{_LOCK_IN} {_GUARD}" if tells_guard else _LOCK_IN
    yield Section("summary", "Summary", [Paragraph(words), Entries(entries)])
    lamp = ", or a lamp on" if summary.nights.has_lamp else ""
    yield Section(
        "nights",
        "Nights",
        [
            Paragraph(
                "A lock-in belongs to the date of its closing. Its waking part is light enough for "
                f"birds to be awake: the Sun less than 6° below the horizon{lamp}. All lengths are "
                "true hours, also across clock changes."
            ),
            _chart(
                draw_nights(summary.nights, long_night_h=float(summary.long / HOUR)),
                "Each lock-in by its closing date, with its dark and its waking part.",
            ),
            Entries(list(nights_entries(summary))),
            _months(summary),
        ],
    )
    yield Section("times", "Door times", list(door_times(due)))


def _lists(door_timer: TimerList | None, lamp_timer: LampList | None) -> Iterator[Section]:
    if door_timer is not None:
        yield Section("timer", "Setting the timer", list(timer_list(door_timer)))
    if lamp_timer is not None:
        yield Section("lamp-timer", "Setting the lamp's timer", list(lamp_list(lamp_timer)))


def _birds_and_settings(summary: NightsSummary, day_lengths: DayLengths) -> Iterator[Section]:
    due = summary.nights.due
    yield Section("house", "Does the house fit?", list(_house(check_fit(summary.nights))))
    yield Section(
        "day-length", "Day length for laying", [Entries(list(day_length_entries(day_lengths, due)))]
    )
    yield Section("settings", "Settings", list(_settings(due.plan)))


def _chart(picture: Picture, caption: str) -> Chart:
    content = base64.b64encode(svg.render(picture)).decode()
    width, height = (round(float(side) * _CSS_PX_PER_IN) for side in picture.get_size_inches())
    return Chart(
        title=picture.title,
        words=picture.description,
        caption=caption,
        data_url=f"data:image/svg+xml;base64,{content}",
        width=width,
        height=height,
    )


def _months(summary: NightsSummary) -> PageTable:
    columns = [Column("Month", _DATE), *(Column(title, _NUMBER) for title in _MONTH_TITLES)]
    rows = []
    for month, total in zip(summary.months, summary.month_totals, strict=True):
        lengths = (month.shortest, month.median, month.longest)
        rows.append(
            (
                str(month.month),
                str(month.lock_ins),
                *("none" if length is None else hours_text(length) for length in lengths),
                str(month.long),
                hours_text(total.shut),
                hours_text(total.waking),
                str(month.shut_days),
            )
        )
    return PageTable("Lock-ins by month [hours:minutes]", tuple(columns), rows)


def _house(fit: Fit) -> Iterator[Part]:
    for line in describe_house(fit):
        yield Paragraph(f"{line}.")
    yield Paragraph(LOCAL_LAW)
    yield Entries([*describe_stays(fit.stays), *in_short(fit)])
    if fit.is_blank:
        yield Paragraph(NOTHING_KNOWN.rpartition(" For instance:")[0])
        return
    for case in Case:
        lines = [line for line in fit.lines if line.case is case]
        yield PageTable(
            section_title(case, fit.stays),
            _FIT_COLUMNS,
            [_fit_row(line, fit.measures) for line in lines],
        )


def _fit_row(line: Line, measures: Measures) -> tuple[str, ...]:
    norm = ""
    if line.norm is not None:
        asks = f" asks for {line.wanted}" if line.wanted else ""
        norm = f"{line.norm.name}{asks}: {line.norm.source_text()}"
    notes = [*line.doubts, *(f"{need}." for need in describe_needs(line, measures)), *line.notes]
    return (line.title, line.verdict.value, line.found, norm, " ".join(notes))


def _settings(plan: Plan) -> Iterator[Part]:
    site = plan.site
    settings = site.settings
    entries = [
        ("Place", describe_place(site)),
        ("Clock", describe_clocks(plan)),
        *((f"Rule {number}", f"{rule}.") for number, rule in enumerate(describe_rules(site), 1)),
        ("Head count", f"{settings.head_count.after_close_min} min after closing"),
    ]
    if settings.head.notes:
        entries.append(("Notes", settings.head.notes))
    yield Entries(entries)
    if settings.spans:
        yield PageTable(
            "Dated spans, of which later ones win",
            (
                Column("From", _DATE),
                Column("Until", _DATE),
                Column("Reason", _LONG),
                Column("Changes", _LONG),
            ),
            [
                (str(span.first), str(span.last), span.reason, _changes(span))
                for span in settings.spans
            ],
        )


def _changes(span: Span) -> str:
    """Return what a span changes, as the file has it."""
    return "; ".join(f"{key} = {setting_text(value)}" for key, value in span.changes())
