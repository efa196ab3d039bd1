"""``daylatch roosting``: the flock's own light, and what the door could make of it."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from daylatch.birds.compare.comparison import compare_plans
from daylatch.commands.dates import DEFAULT_DAYS
from daylatch.commands.due import due_of
from daylatch.commands.happened.entries import asked_of_log, entries_of, refuse_log
from daylatch.commands.happened.flock_light import roosting_of
from daylatch.commands.happened.write_light import changes_of, write_lights
from daylatch.commands.now import marked_date_at, now_utc, warn, warn_about
from daylatch.commands.output import hand_over
from daylatch.diary.roosting.half import Learned
from daylatch.diary.roosting.looks import TOLD
from daylatch.diary.roosting.proposal_words import newly_shut, no_proposal_sentence
from daylatch.diary.roosting.roosting import Costs, under_rules
from daylatch.diary.roosting.shares import LEAST_TOLD
from daylatch.diary.roosting.words import aside_sentences, not_told_sentence
from daylatch.errors import DaylatchError, DiaryError, UsageError
from daylatch.plan.plan import make_plan
from daylatch.site.messages import show_value
from daylatch.site.reading.site_file import load_site
from daylatch.wording import days_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from daylatch.commands.dates import Range
    from daylatch.commands.happened.write_light import Change
    from daylatch.diary.entries import Entry
    from daylatch.diary.roosting.roosting import Roosting, UnderRules
    from daylatch.files.occasion import Occasion
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

_LEAST_PERCENT, _MOST_PERCENT = 100 * LEAST_TOLD, 99.9


def run(
    words: list[str],
    wanted: Range,
    *,
    to: str | None,
    output: Path | None,
    force: bool,
    mapping: str | None,
    share: str | None,
    changes: Sequence[str],
    write: bool,
) -> None:
    """Print what is learned or write it to a file, and the proposal into the site file."""
    asked, form, log = asked_of_log(
        "roosting", words, wanted, to=to, output=output, force=force, mapping=mapping
    )
    chosen = None if share is None else _share(share)
    site = load_site(asked.path)
    warn_about(site)
    refuse_log(output, log)
    entries, source = entries_of(site, log, mapping, wanted, TOLD)
    entries = _past(entries)
    today = marked_date_at(site)
    roosting = roosting_of(site, entries, source, chosen, today)
    if roosting is None:
        raise DiaryError(
            f"{source}: holds no word of when the birds went in or wanted out: note "
            "`last in 20:14`, or `2 still out` and `all in`; for mornings `first out 7:05`, or "
            "`none waiting` and `3 waiting`"
        )
    if not roosting.learned:
        raise DiaryError(f"{source}: {' '.join(_why_not(roosting))}")
    if changes:
        other = _by_others(asked.path, changes, roosting)
        roosting = replace(roosting, rules=(*roosting.rules, other))
    proposed = changes_of(roosting.learned, today)
    if proposed:
        roosting = replace(roosting, costs=_costs(site, asked.path, proposed, today))

    def content(render: Callable[..., Any], _: Callable[[], Occasion]) -> bytes:
        if form.needs_pictures:
            from daylatch.paper.pictures.roosting import (  # noqa: PLC0415 - if drawn
                draw_roosting,
            )

            made: bytes = render(draw_roosting(roosting, _years_of(roosting)))
            return made
        text: bytes = render(roosting)
        return text

    hand_over(asked, form, site, content, about=source)
    if write:
        _write(asked.path, roosting, proposed)


def _past(entries: list[Entry]) -> list[Entry]:
    """Return entries that are not still to come, after a word on those that are."""
    now = now_utc()
    past = [one for one in entries if one.instant_utc <= now]
    if len(past) < len(entries):
        count = len(entries) - len(past)
        told = "1 entry is" if count == 1 else f"{count} entries are"
        warn(f"{told} still to come by the clock of this computer, and left out")
    return past


def _share(text: str) -> float:
    """Return a share as it is typed: 95, 95% or 0.95.

    Raises
    ------
    UsageError
        If it is none that can be promised.
    """
    match = re.fullmatch(r"(\d{1,3}(?:\.\d{1,6})?) ?%?", text.strip(), re.ASCII)
    value = float(match[1]) if match else 0.0
    percent = 100 * value if value < 1 else value
    if not _LEAST_PERCENT <= percent <= _MOST_PERCENT:
        raise UsageError(
            f"--share is {show_value(text)}: write the share of evenings in percent, from "
            f"{_LEAST_PERCENT:g} to {_MOST_PERCENT:g}, such as 95"
        )
    return round(percent / 100, 6)


def _why_not(roosting: Roosting) -> list[str]:
    halves = (roosting.evening, roosting.morning)
    return [
        " ".join([not_told_sentence(half), *aside_sentences(half.looks, roosting.site)])
        for half in halves
        if half is not None and not isinstance(half, Learned)
    ]


def _by_others(path: Path, changes: Sequence[str], roosting: Roosting) -> UnderRules:
    """Return what other settings make of the evenings.

    Raises
    ------
    SiteError, PlanError
        If they cannot be used, or give no plan of those days.
    """
    other = load_site(path, changes)
    if not isinstance(roosting.evening, Learned):
        raise UsageError(
            "--with holds other settings against evenings, and there are none to learn of"
        )
    dates = roosting.evening.looks.dates[[0, -1]].tolist()
    due = due_of(make_plan(other, *dates, with_second_opinion=False))
    return under_rules(roosting.evening, " ".join(changes), due)


def _costs(site: Site, path: Path, changes: Sequence[Change], today: dt.date) -> Costs:
    """Return what proposed lights cost or gain in the coming year."""
    dates = (today, today + dt.timedelta(days=DEFAULT_DAYS - 1))
    settings = [one for change in changes for one in change.settings]
    try:
        first = make_plan(site, *dates, with_second_opinion=False)
        second = make_plan(load_site(path, settings), *dates)
    except DaylatchError as error:
        return Costs(None, " ".join(error.lines))
    return Costs(compare_plans(first, second, "as it is", "as proposed"))


def _years_of(roosting: Roosting) -> Plan:
    """Return a plan of the years in which the birds were looked at."""
    first, last = dt.date(roosting.first.year, 1, 1), dt.date(roosting.last.year, 12, 31)
    return make_plan(roosting.site, first, last, with_second_opinion=False)


def _write(path: Path, roosting: Roosting, changes: Sequence[Change]) -> None:
    if not changes:
        why = [no_proposal_sentence(half) for half in roosting.learned]
        raise UsageError(f"{path}: nothing was written, since nothing is proposed. {' '.join(why)}")
    if roosting.costs is None or roosting.costs.comparison is None:
        trouble = "" if roosting.costs is None else roosting.costs.trouble
        raise UsageError(
            f"{path}: what is proposed gives no plan, so nothing was written: {trouble}"
        )
    lost = newly_shut(roosting.costs)
    if len(lost):
        days = days_text(len(lost))
        raise UsageError(
            f"{path}: nothing was written, since the door would stay shut on {days} on which it "
            f"opens now, such as {lost[0]}: write dark_fallback under [open] or [close] first"
        )
    write_lights(path, changes)
