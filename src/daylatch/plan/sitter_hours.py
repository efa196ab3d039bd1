"""Fixed hours for a sitter: by how much they part from the keeper's own rule, and what would do.

A sitter comes when it suits, and the birds go in when it is dark. A span of dates on which the
keeper is away may pin the door to the clock; where that closes it before the rest of the file
would, birds are shut out.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daylatch.arrays import DAY_MIN, MINUTE
from daylatch.clock import WallTime
from daylatch.errors import PlanError
from daylatch.plan.daily.rules import Side
from daylatch.plan.plan import make_plan
from daylatch.site.tables import Day, Night
from daylatch.wording import days_text, duration_text

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from daylatch.arrays import Flags, Minutes, Times
    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

_STEP_MIN = 5


class _Pinned(NamedTuple):
    """A movement that a span can pin too early, and what is said of it.

    Attributes
    ----------
    side : Side
        Which one.
    table : str
        Of the span's keys.
    own : tuple of str
        The limits of the rest of the file that are no word on the light: a late closing and a late
        opening may suit people.
    verb, too_early, what, otherwise : str
        What is said.
    """

    side: Side
    table: str
    own: tuple[str, ...]
    verb: str
    too_early: str
    what: str
    otherwise: str


_PINNED = (
    _Pinned(
        Side.CLOSE,
        "close",
        ("not_before",),
        "closes",
        "birds that are not in yet are shut out",
        "a closing",
        ", or close.shut_in_by_hand = true, if the sitter shuts them in first",
    ),
    _Pinned(
        Side.OPEN,
        "open",
        ("not_before", "not_after"),
        "opens",
        "it is not light enough then, and predators may hunt",
        "an opening",
        "",
    ),
)
_KEYS = ("fixed", "not_after")
"""By which a span pins a movement so that it may come too early."""


def sitter_hours(plan: Plan) -> Iterator[str]:
    """Yield what is amiss with hours by the clock on days on which the keeper is away.

    Parameters
    ----------
    plan
        Of the days.
    """
    for index, span in enumerate(plan.site.settings.spans):
        covered = span.covered(plan.dates)
        if not span.away or not covered.any():
            continue
        for pinned in _PINNED:
            table = getattr(span, pinned.table)
            if table is not None and table.model_fields_set & set(_KEYS):
                yield from _too_early(plan.part(covered), index, pinned)


def _too_early(plan: Plan, index: int, pinned: _Pinned) -> Iterator[str]:
    """Yield that a movement comes before the light has it, and which time would do."""
    dates = (plan.dates[0].item(), plan.dates[-1].item())
    site = _by_light_alone(plan.site, pinned)
    try:
        times, wanted = (
            _times(make_plan(one, *dates, with_second_opinion=False), pinned)
            for one in (site, _changed(site, index, pinned, {}))
        )
    except PlanError:
        # Without the wishes for days and nights it would not even be a plan: nothing is known.
        return
    early: Minutes = wanted - times
    bad: Flags = early > np.timedelta64(0, "m")
    if pinned.side is Side.CLOSE:
        # Whoever shuts them in first shuts none out.
        bad &= ~plan.settings.shut_in_by_hand
    if not bad.any():
        return
    worst = int(np.argmax(np.where(bad, early, np.timedelta64(0, "m"))))
    wall = plan.on_wall(wanted[bad]).wall - plan.dates[bad].astype("datetime64[m]")
    latest = int(-(-(wall / MINUTE).max() // _STEP_MIN) * _STEP_MIN)
    yield (
        f"by span {index + 1} the door {pinned.verb} up to {duration_text(early[worst])} before "
        f"your own rule would, on {days_text(int(bad.sum()))} (most on {plan.dates[worst]}): "
        f"{pinned.too_early}; {_remedy(plan.site, index, pinned, latest, dates)}{pinned.otherwise}"
    )


def _remedy(
    site: Site, index: int, pinned: _Pinned, latest: int, dates: tuple[dt.date, dt.date]
) -> str:
    """Return which time would do, if the door can be pinned to it."""
    time = WallTime(latest % DAY_MIN)
    try:
        make_plan(_changed(site, index, pinned, {"fixed": time}), *dates, with_second_opinion=False)
    except PlanError:
        return f"no time by the clock does on all of them: take {pinned.table}.fixed out"
    later = " (next day)" if latest >= DAY_MIN else ""
    return (
        f"{pinned.what} not before {site.face.time(latest)}{later} would do on all of them "
        f'({pinned.table}.fixed = "{time}")'
    )


def _times(plan: Plan, pinned: _Pinned) -> Times:
    return plan.open_utc if pinned.side is Side.OPEN else plan.close_utc


def _by_light_alone(site: Site, pinned: _Pinned) -> Site:
    """Return a site whose movement is that of its light, and moved by no other's wishes."""
    settings = site.settings
    spans = tuple(
        span.model_copy(
            update={
                "day": None,
                "night": None,
                pinned.table: _without(getattr(span, pinned.table), pinned.own)
                if not span.away
                else getattr(span, pinned.table),
            }
        )
        for span in settings.spans
    )
    movement = getattr(settings, pinned.table).model_copy(update=dict.fromkeys(pinned.own))
    changed = {
        "day": Day.model_construct(),
        "night": Night.model_construct(),
        "spans": spans,
        pinned.table: movement,
    }
    return replace(site, settings=replace(settings, **changed))


def _changed(site: Site, index: int, pinned: _Pinned, given: dict[str, WallTime]) -> Site:
    """Return the site with a span that pins a movement to nothing, or to what is given."""
    spans = list(site.settings.spans)
    table = _without(getattr(spans[index], pinned.table), _KEYS)
    kept = {key: getattr(table, key) for key in table.model_fields_set} | given
    spans[index] = spans[index].model_copy(
        update={pinned.table: type(table).model_construct(set(kept), **kept)}
    )
    return replace(site, settings=replace(site.settings, spans=tuple(spans)))


def _without(table: Any, keys: tuple[str, ...]) -> Any:
    """Return a span's table without some keys; None if it has none of its own."""
    if table is None:
        return None
    kept = {key: getattr(table, key) for key in table.model_fields_set if key not in keys}
    return type(table).model_construct(set(kept), **kept)
