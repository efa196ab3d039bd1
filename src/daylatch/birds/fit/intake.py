"""What the birds eat and drink in a day, by the norms that the site file chooses."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from daylatch.site.housing import Flock
from daylatch.site.norms import Norms
from daylatch.site.values.measures import UNITS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.norms import Norm
    from daylatch.site.tables import SiteFile


class Intake(NamedTuple):
    """What all birds eat or drink in a day.

    Attributes
    ----------
    norm : Norm
        By which it is reckoned.
    least, most : float
        In the base of the norm's unit [g or ml].
    """

    norm: Norm
    least: float
    most: float

    @property
    def base(self) -> str:
        """The base of the norm's unit: ``g`` or ``ml``."""
        return UNITS[self.norm.unit].base


def daily_intake(norms: Norms, flock: Flock, requirement: str) -> Intake | None:
    """Return what a flock eats or drinks in a day; None if the file or the norm does not say.

    Parameters
    ----------
    norms, flock
        As the site file has them.
    requirement
        ``feed`` or ``water``.
    """
    norm = norms.norm(requirement, flock.size)
    figures = norm.base_figures(flock.size)
    if flock.birds is None or figures is None:
        return None
    heat = norm.hot if norm.hot and flock.temperature == "hot" else (1.0, 1.0)
    return Intake(norm, flock.birds * figures[0] * heat[0], flock.birds * figures[-1] * heat[-1])


def intakes(settings: SiteFile) -> Iterator[tuple[str, Intake]]:
    """Yield ``feed`` and ``water``, each with its intake, as far as that is known.

    Tables that the file leaves out stand for no birds and for the norms it would have chosen.
    """
    norms = settings.norms or Norms.model_construct()
    flock = settings.flock or Flock.model_construct()
    for requirement in ("feed", "water"):
        intake = daily_intake(norms, flock, requirement)
        if intake is not None:
            yield requirement, intake
