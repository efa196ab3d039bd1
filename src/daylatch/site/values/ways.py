"""A keeper's ways of writing, as what tells a site file's tables gets them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from daylatch.site.values.measures import Measures
    from daylatch.wording import ClockFace


class Ways(NamedTuple):
    """How times of day, and lengths and amounts, are written."""

    face: ClockFace
    measures: Measures
