"""Fixed hours for a sitter: by how much they part from the keeper's own rule, and what would do.

A sitter comes when it suits, and the birds go in when it is dark. A span of dates on which the
keeper is away may pin the door to the clock; where that closes it before the rest of the file
would, birds are shut out.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daylatch.arrays import DAY_MIN, MINUTE
from daylatch.plan.plan import make_plan
from daylatch.plan.rules import Side
from daylatch.wording import days_text, duration_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.arrays import Flags, Minutes
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site, Span

_STEP_MIN = 5


class _ByTheClock(NamedTuple):
    """A movement that a span can pin too early: by which keys, and what is said of it."""

    side: Side
    table: str
    keys: frozenset[str]
    verb: str
    too_early: str
    what: str
    otherwise: str


_PINNED = (
    _ByTheClock(
        Side.CLOSE,
        "close",
        frozenset({"fixed", "not_after"}),
        "closes",
        "birds that are not in yet are shut out",
        "a closing",
        ", or close.shut_in_by_hand = true, if the sitter shuts them in first",
    ),
    _ByTheClock(
        Side.OPEN,
        "open",
        frozenset({"fixed", "not_after"}),
        "opens",
        "it is not light enough then, and predators may hunt",
        "an opening",
        "",
    ),
)


def sitter_hours(plan: Plan) -> Iterator[str]:
    """Yield what is amiss with hours by the clock on days on which the keeper is away.

    Parameters
    ----------
    plan
        Of the days.
    """
    spans = plan.site.settings.spans
    for number, span in enumerate(spans, start=1):
        covered = span.covered(plan.dates)
        if not span.away or not covered.any():
            continue
        for pinned in _PINNED:
            if _given(span, pinned):
                by_light = make_plan(
                    _without(plan.site, number - 1, pinned),
                    *plan.dates[covered][[0, -1]].tolist(),
                    with_second_opinion=False,
                )
                yield from _too_early(plan.part(covered), by_light, number, pinned)


def _given(span: Span, pinned: _ByTheClock) -> frozenset[str]:
    """Return the keys by which a span pins a movement to the clock."""
    table = getattr(span, pinned.table)
    return frozenset() if table is None else pinned.keys & table.model_fields_set


def _without(site: Site, index: int, pinned: _ByTheClock) -> Site:
    """Return the site without what a span pins to the clock."""
    spans = list(site.settings.spans)
    table = getattr(spans[index], pinned.table)
    kept = {key: getattr(table, key) for key in table.model_fields_set - pinned.keys}
    free = type(table).model_construct(set(kept), **kept)
    spans[index] = spans[index].model_copy(update={pinned.table: free})
    return replace(site, settings=replace(site.settings, spans=tuple(spans)))


def _too_early(plan: Plan, by_light: Plan, number: int, pinned: _ByTheClock) -> Iterator[str]:
    """Yield that a movement comes before the light has it, and which time would do."""
    times, wanted = (
        one.open_utc if pinned.side is Side.OPEN else one.close_utc for one in (plan, by_light)
    )
    early: Minutes = wanted - times
    bad: Flags = early > np.timedelta64(0, "m")
    if pinned.side is Side.CLOSE:
        # Whoever shuts them in first shuts none out.
        bad &= ~plan.settings.shut_in_by_hand
    if not bad.any():
        return
    worst = int(np.argmax(np.where(bad, early, np.timedelta64(0, "m"))))
    wall = by_light.on_wall(wanted[bad]).wall - plan.dates[bad].astype("datetime64[m]")
    latest = int(-(-(wall / MINUTE).max() // _STEP_MIN) * _STEP_MIN)
    later = " (next day)" if latest >= DAY_MIN else ""
    yield (
        f"by span {number} the door {pinned.verb} up to {duration_text(early[worst])} before your "
        f"own rule would, on {days_text(int(bad.sum()))} (most on {plan.dates[worst]}): "
        f"{pinned.too_early}; {pinned.what} not before {plan.site.face.time(latest)}{later} would "
        f"do on all of them{pinned.otherwise}"
    )
