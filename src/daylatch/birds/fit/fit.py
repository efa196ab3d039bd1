"""Whether a house fits its birds: each requirement beside its norm, for the nights computed.

A bird that only sleeps inside needs less than one that is awake there, so the lock-ins of the plan
say which case holds on which dates. What the site file does not tell is not checked and never
assumed, and a verdict always stands with its case.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from daylatch.birds.fit.checks import Checks
from daylatch.birds.fit.stays import Stays, find_stays
from daylatch.site.housing import Flock, House, Run
from daylatch.site.norms import Norms
from daylatch.site.told.sizes import doubtful_sizes

if TYPE_CHECKING:
    from daylatch.birds.fit.line import Line
    from daylatch.birds.nights.nights import Nights
    from daylatch.plan.due import Due
    from daylatch.plan.plan import Plan
    from daylatch.site.values.measures import Measures


LOCAL_LAW = (
    "A norm is advice, or law for others, and no permit: local law and any housing order come "
    "first. EU and UK rules for laying hens hold from 350 hens up."
)


@dataclass(frozen=True, eq=False)
class Fit:
    """A house compared with norms for the dates of a plan."""

    due: Due
    flock: Flock
    house: House
    run: Run
    stays: Stays
    lines: tuple[Line, ...]
    measures: Measures

    @property
    def plan(self) -> Plan:
        """The plan whose nights they are."""
        return self.due.plan

    @property
    def is_blank(self) -> bool:
        """Whether the site file says nothing of the birds or where they live."""
        return not any(table.model_fields_set for table in (self.flock, self.house, self.run))


def check_fit(nights: Nights, measures: Measures | None = None) -> Fit:
    """Compare the house of a site with the norms that its file chooses.

    Parameters
    ----------
    nights
        The lock-ins of the plan that the site has.
    measures
        How sizes are written; as the site file says, if left out.
    """
    settings = nights.plan.site.settings
    measures = measures or nights.plan.site.measures
    norms = settings.norms or Norms.model_construct()
    checks = Checks(
        nights,
        norms,
        settings.flock or Flock.model_construct(),
        settings.house or House.model_construct(),
        settings.run or Run.model_construct(),
        find_stays(nights, norms),
        tuple(doubtful_sizes(settings)),
        measures,
    )
    return Fit(
        nights.due,
        checks.flock,
        checks.house,
        checks.run,
        checks.stays,
        tuple(checks.lines()),
        measures,
    )
