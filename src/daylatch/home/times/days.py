"""How far ahead a door can be told its times: as far as there is a plan."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, TypeVar

from daylatch.clock import get_zone
from daylatch.errors import PlanError, SecondOpinionError
from daylatch.plan.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from daylatch.plan.plan import Plan
    from daylatch.site.tables import Site

ONE_DAY = dt.timedelta(days=1)
_NO_PLAN = (PlanError, SecondOpinionError)
_T = TypeVar("_T")


class NoTimesError(Exception):
    """No times can be told now; its text is for the door.

    Parameters
    ----------
    words
        One sentence that names nothing of this computer.
    why
        The same for the keeper's log, where there is more to say.
    """

    def __init__(self, words: str, why: str = "") -> None:
        super().__init__(words)
        self.why = why or words


def as_far_as_planned(
    site: Site,
    make: Callable[[Plan], _T],
    first: dt.date,
    least: dt.date,
    most: dt.date,
) -> _T:
    """Return what is made of the plan from a date on, as far as there is one.

    A date far ahead without a plan, such as one that needs a fallback, must not keep back the
    nearer ones. Which is the last does not hang on the dates that are asked for.

    Parameters
    ----------
    site
        Whose.
    make
        Makes it; it may refuse a plan as `make_plan` does.
    first, least, most
        Where it begins, where it must not end before, and where it ends at the latest.

    Raises
    ------
    PlanError, SecondOpinionError
        If there is none up to ``least``.
    """
    end = get_zone(site.zone).rules_end
    if end is not None and first <= end:
        least, most = min(least, end), min(most, end)
    try:
        return make(make_plan(site, first, most))
    except _NO_PLAN:
        good = make(make_plan(site, first, least))
    known, refused = 0, (most - least).days
    while refused - known > 1:
        middle = (known + refused) // 2
        try:
            good, known = make(make_plan(site, first, least + middle * ONE_DAY)), middle
        except _NO_PLAN:
            refused = middle
    return good
