"""``daylatch card --each``: a card for every house of a dataset."""

from __future__ import annotations

import contextlib
import re
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from daylatch.commands.extras import require_many, require_pictures
from daylatch.commands.forms import FORMS
from daylatch.commands.many.many import NOT_ALL
from daylatch.commands.now import stamp_utc, warn
from daylatch.commands.output import check_target
from daylatch.commands.people.card import month_dates
from daylatch.commands.people.on_paper import put_on_page
from daylatch.commands.progress import shown_pace
from daylatch.console import printable
from daylatch.door.works.due import make_due
from daylatch.errors import DaylatchError, OutputError, StoppedError, UsageError
from daylatch.files.occasion import Occasion
from daylatch.files.put import put
from daylatch.paper.card import make_card
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from daylatch.commands.dates import Range
    from daylatch.commands.people.card import CardWishes
    from daylatch.many.reading import HouseTimes
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

_LONGEST_NAME = 60
_OF_ID = 16
"""Digits of a house's id in its file's name: with eight, two of 10,000 houses could share one."""


def run(
    folder: Path, wanted: Range, output: Path | None, wishes: CardWishes, *, force: bool
) -> int:
    """Make the cards, and return the exit status.

    Parameters
    ----------
    folder
        Of the dataset.
    wanted
        The dates, as they were typed; those of the dataset if none were.
    output
        The folder that they go to.
    wishes
        As for one card.
    force
        Whether files may be lost that are none of ours.
    """
    if output is None:
        raise UsageError("say where the cards go, such as -o cards (a folder)")
    require_many()
    require_pictures()
    from daylatch.many.reading import houses_in, open_dataset  # noqa: PLC0415 - of an extra

    wishes.check(wanted)
    dataset = open_dataset(folder)
    first, last = wishes.month_dates or (
        wanted.dates(lambda: dataset.first) if any(wanted) else (dataset.first, dataset.last)
    )
    if first < dataset.first or last > dataset.last:
        raise UsageError(
            f"{first} to {last}: {folder} has the times of {dataset.first} to {dataset.last}; ask "
            "for dates among them"
        )
    try:
        output.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{output}: cannot be made: {error.strerror}") from error
    form = FORMS["card"][0]
    writer = form.writer()
    stamp = stamp_utc()
    done = failed = 0
    with _told_if_stopped(output) as noted, shown_pace("Making cards", "cards") as tell:
        for house in houses_in(dataset):
            file = output / _file_name(house.site, first, last)
            try:
                site, rows_of, years, tried_out = wishes.of(house.site, first, last)
                plan = make_plan(site, *years, with_second_opinion=False)
                _refuse_other_times(plan, house, (first, last))
                card = make_card(make_due(plan), rows_of, (first, last), tried_out)
                previous = check_target(file, writer.wrote, site_paths=[], force=force)
                content = put_on_page(
                    form,
                    writer.render,
                    card,
                    wishes.sheet(site),
                    partial(Occasion, stamp, previous),
                )
            except OutputError:
                raise
            except DaylatchError as error:
                failed += 1
                warn(f"{printable(house.site.file_name)} has no card: {error.lines[0]}")
            else:
                put(file, content)
                done += 1
                noted(done)
            tell(done + failed, dataset.houses)
    print(f"wrote {printable(str(output))}: {done} cards, {first} to {last}")
    return NOT_ALL if failed else 0


@contextlib.contextmanager
def _told_if_stopped(output: Path) -> Iterator[Callable[[int], None]]:
    """Give what notes how many cards are written, which is told if somebody interrupts it."""
    written = 0

    def note(done: int) -> None:
        nonlocal written
        written = done

    try:
        yield note
    except KeyboardInterrupt:
        raise StoppedError(f"stopped: {written} cards are written in {output}") from None


def _refuse_other_times(plan: Plan, house: HouseTimes, wanted: tuple[dt.date, dt.date]) -> None:
    """Refuse a card that would not say what the dataset says.

    Raises
    ------
    UsageError
        If a minute differs, as with newer zone rules.
    """
    asked = plan.dates[
        (plan.dates >= np.datetime64(wanted[0])) & (plan.dates <= np.datetime64(wanted[1]))
    ]
    if not np.isin(asked, house.dates).all():
        raise UsageError("the dataset lacks some of its days: run the same daylatch many again")
    among, rows = np.isin(plan.dates, house.dates), np.isin(house.dates, plan.dates)
    for mine, theirs in ((plan.open_utc, house.open_utc), (plan.close_utc, house.close_utc)):
        if not np.array_equal(mine[among], theirs[rows], equal_nan=True):
            raise UsageError(
                "its times in the dataset are others than this program makes (newer zone rules, "
                "perhaps): run the same daylatch many again"
            )


def _file_name(site: Site, first: dt.date, last: dt.date) -> str:
    """Return a name that any disk takes, and that no other house or other dates have."""
    plain = re.sub(r"[^\w.-]+", "-", site.file_name)[:_LONGEST_NAME].strip(".-") or "house"
    return f"{plain}-{site.id.replace('-', '')[:_OF_ID]}-{_dates_text(first, last)}.pdf"


def _dates_text(first: dt.date, last: dt.date) -> str:
    """Return dates as short as they can be told: a year, a month, or both ends."""
    if (first.month, first.day, last.month, last.day) == (1, 1, 12, 31) and first.year == last.year:
        return str(first.year)
    if first.day == 1 and last == month_dates(f"{first:%Y-%m}")[1]:
        return f"{first:%Y-%m}"
    return f"{first}-to-{last}"
