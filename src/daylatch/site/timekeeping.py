"""The table of the site file that says how well the door's own clock keeps time.

Which time it keeps is another matter: ``door.clock``. A file of its own because most runs of the
program need none of it.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import Field, model_validator

from daylatch.site.choices.oscillators import OSCILLATORS, Oscillator, list_oscillators
from daylatch.site.keys.units import converted
from daylatch.site.table import Date, Sized, one_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.surroundings import Surroundings
    from daylatch.site.values.ways import Ways

MARGIN_MIN = 2
"""How wrong the clock may become if the keeper says nothing (common practice, no source)."""
MOST_MARGIN_MIN = 120
SET_ERROR_S = 60
"""How wrong a clock may be when it has been set by one that shows no seconds: up to a minute."""
_MOST_PPM = 200_000
# What is given in degrees Fahrenheit keeps no traces of the arithmetic.
_PLACES = 6


OscillatorName = Annotated[str, *one_of(OSCILLATORS)]
Celsius = Annotated[float, Field(ge=-60, le=80)]
Fahrenheit = Annotated[float, Field(ge=-76, le=176)]


class Timekeeping(Sized):
    """How well the door's own clock keeps time."""

    ABOUT: ClassVar[str] = (
        "How well the door's own clock keeps time: `daylatch drift` says when it must be set again."
    )

    accuracy_ppm: Annotated[float, Field(ge=0.1, le=_MOST_PPM)] | None = Field(
        None,
        description="Its accuracy by the data sheet, either way [parts in a million]: at 25 °C for "
        "a crystal, over its whole range if compensated. Needed by `daylatch drift`.",
    )
    oscillator: OscillatorName = Field(
        "crystal", description=f"What keeps its time: {list_oscillators()}."
    )
    coldest_c: Celsius | None = Field(
        None, description="How cold it gets where the clock is [°C]; 25 if left out."
    )
    coldest_f: Fahrenheit | None = Field(
        None, description="How cold it gets where the clock is [°F]; 77 if left out."
    )
    warmest_c: Celsius | None = Field(
        None, description="How warm it gets there [°C]; 25 if left out."
    )
    warmest_f: Fahrenheit | None = Field(
        None, description="How warm it gets there [°F]; 77 if left out."
    )
    set_on: Date | None = Field(None, description="When it was set last.")
    set_error_s: Annotated[int, Field(ge=0, le=3600)] = Field(
        SET_ERROR_S,
        description="How wrong it may be when it has just been set, either way [s]; 60 where the "
        "clock that it is set by shows no seconds.",
    )
    margin_min: Annotated[int, Field(ge=0, le=MOST_MARGIN_MIN)] = Field(
        MARGIN_MIN,
        description="How wrong it may become, fast or slow, before it must be set again [min] (as "
        "the monthly check of the clock has it; common practice, no source).",
    )

    @classmethod
    def examples(cls, around: Surroundings) -> dict[str, Any]:
        """Return what a new file shows of keys that have no default, for a place and a year."""
        return {
            "accuracy_ppm": 20,
            "coldest_c": around.climate.coldest_c,
            "coldest_f": round(converted(around.climate.coldest_c, "c", "f")),
            "warmest_c": around.climate.warmest_c,
            "warmest_f": round(converted(around.climate.warmest_c, "c", "f")),
            # Examples lie in the coming year, and a clock was set in the past.
            "set_on": dt.date(around.year - 1, 1, 1),
        }

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        kind, ppm = self.kind.words, self.accuracy_ppm
        yield f"{kind} of unknown accuracy" if ppm is None else f"{kind} of {ppm:g} ppm either way"
        for end in ("coldest", "warmest"):
            found = self.given(end)
            if found is not None:
                value, unit = found
                shown = ways.measures.temperature(round(converted(value, unit, "c"), _PLACES))
                both = unit == "f" and not ways.measures.system
                yield f"{end} {value:g} °F ({shown})" if both else f"{end} {shown}"
        on = "" if self.set_on is None else f" on {self.set_on}"
        yield f"set{on} to within {self.set_error_s} s"
        yield f"it may become {self.margin_min} min wrong"

    @property
    def kind(self) -> Oscillator:
        """What keeps its time."""
        return OSCILLATORS[self.oscillator]

    @property
    def coldest(self) -> float | None:
        """How cold it gets where the clock is [°C]."""
        value = self.size("coldest", "c")
        return None if value is None else round(value, _PLACES)

    @property
    def warmest(self) -> float | None:
        """How warm it gets there [°C]."""
        value = self.size("warmest", "c")
        return None if value is None else round(value, _PLACES)

    @model_validator(mode="after")
    def _in_order(self) -> Timekeeping:
        coldest, warmest = self.coldest, self.warmest
        if coldest is not None and warmest is not None and warmest < coldest:
            low, high = (
                f"{end}_{unit} ({value:g})"
                for end in ("coldest", "warmest")
                for value, unit in filter(None, [self.given(end)])
            )
            raise ValueError(f"{low} lies above {high}: swap them")
        return self
