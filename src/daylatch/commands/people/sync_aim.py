"""What a run of ``daylatch sync`` is about: whose entries, of which days, what they should say."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, NamedTuple

from daylatch.clock import get_zone
from daylatch.commands.due import due_of
from daylatch.commands.flock import with_birds_on
from daylatch.commands.now import date_now
from daylatch.commands.people.away import Away, away_dates, due_on
from daylatch.errors import PlanError
from daylatch.plan.due_words import due_notes
from daylatch.plan.plan import make_plan
from daylatch.site.choices.calendar_styles import STYLES

if TYPE_CHECKING:
    from daylatch.calendars.sync.content import Wanted
    from daylatch.calendars.sync.differences import Scope
    from daylatch.commands.dates import Range
    from daylatch.site.sync import Sync
    from daylatch.site.tables import Site


_FAR = dt.timedelta(days=400)
"""How far ahead dates are planned from the beginning of the window on."""


class SyncWishes(NamedTuple):
    """What the command line asks for."""

    dates: Range
    url: str | None
    calendar: str | None
    away: bool
    remove: bool
    yes: bool
    dry_run: bool
    overwrite: bool
    renamed: bool
    plain_http: bool


class Aim(NamedTuple):
    """What a run is about: of which site, what must be known of its times, which entries."""

    site: Site
    notes: tuple[str, ...]
    wanted: list[Wanted]
    scope: Scope
    url: str
    calendar: str | None
    asks_first: bool = False


def find_aim(site: Site, settings: Sync, url: str, wishes: SyncWishes) -> Aim:
    """Return what a run is about: whose entries, of which days, and what they should say.

    Raises
    ------
    PlanError
        If there is no plan of these days.
    UsageError, SiteError
        As `away_dates`.
    """
    from daylatch.calendars.entries import make_events  # noqa: PLC0415
    from daylatch.calendars.looks import make_looks  # noqa: PLC0415
    from daylatch.calendars.sync.content import site_mark, want  # noqa: PLC0415 - loads icalendar
    from daylatch.calendars.sync.differences import Scope  # noqa: PLC0415

    first, last, from_day = _window(site, settings, wishes)
    has_all = wishes.remove and not any(wishes.dates)
    scope = Scope(
        site.id,
        site_mark(site),
        dt.date.min if has_all else first,
        dt.date.max if has_all else last,
        wishes.overwrite,
        has_plan=not wishes.away,
        looks_on=_looks_on(site, first, last, wishes),
    )
    events: list[Any] = []
    notes: list[str] = []
    # What is taken out needs no plan, and may be taken out because there is none.
    if not wishes.remove:
        due = due_of(make_plan(site, from_day, last))
        notes += due_notes(due)
        if scope.has_plan:
            events += make_events(due)
        if scope.looks_on is None or scope.looks_on:
            events += make_looks(due_on(with_birds_on(site, first), Away(first, last, "")))
    zone = get_zone(site.zone)
    return Aim(
        site,
        tuple(notes),
        [want(event, zone) for event in events if scope.covers(str(event["UID"]))],
        scope,
        url,
        settings.calendar if wishes.calendar is None else wishes.calendar,
        has_all,
    )


def _window(site: Site, settings: Sync, wishes: SyncWishes) -> tuple[dt.date, dt.date, dt.date]:
    """Return the first and last date whose entries are looked after, and from when to plan."""
    today = date_now(site)
    if wishes.away and not wishes.remove:
        away = away_dates(site, wishes.dates)
        return away.first, away.last, away.first
    try:
        if any(wishes.dates):
            first, last = wishes.dates.dates(lambda: today)
        else:
            first = today - dt.timedelta(days=settings.days_behind)
            last = today + dt.timedelta(days=settings.days_ahead)
    except OverflowError:
        raise PlanError(f"{today}: no plan reaches that far") from None
    # The first day planned always has an entry: it must not be another one each day.
    if not STYLES[site.settings.calendar.style].begins_month:
        return first, last, first
    if not any(wishes.dates):
        return first.replace(day=1), last, first.replace(day=1)
    # Some dates have the entries that the whole window gives them.
    window = (today - dt.timedelta(days=settings.days_behind)).replace(day=1)
    begin = first.replace(day=1) - dt.timedelta(days=1)
    near = dt.timedelta(0) <= first - window <= _FAR
    return first, last, window if near else begin


def _looks_on(
    site: Site, first: dt.date, last: dt.date, wishes: SyncWishes
) -> frozenset[dt.date] | None:
    """Return the days whose sitter's entries are looked after; None for all that there are."""
    if wishes.away or wishes.remove:
        return None
    if not any(wishes.dates):
        return frozenset()
    spans = [span for span in site.settings.spans if span.away]
    days = (first + dt.timedelta(days=number) for number in range((last - first).days + 1))
    return frozenset(day for day in days if any(span.covers(day) for span in spans))
