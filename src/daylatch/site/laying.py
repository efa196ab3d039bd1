"""The table of the site file that says how long the day should be for laying, and what lamp helps.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import Field, model_validator

from daylatch.site.table import Date, Table, chosen
from daylatch.site.timer import Timer

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.surroundings import Surroundings
    from daylatch.site.values.ways import Ways

COUNTS_WORDS = {"sunrise": "sunrise to sunset", "civil": "civil dawn to civil dusk"}
"""What ``laying.counts`` means."""


def _aim(timer: Timer) -> str:
    if timer.changes is not None:
        return f"at most {timer.changes} settings"
    tolerance = timer.wanted_tolerance_min
    return f"on at most {tolerance} min earlier and off at most {tolerance} min later"


class Laying(Table):
    """The length of day that the keeper wants for laying, and a lamp that keeps it."""

    ABOUT: ClassVar[str] = (
        "How long the day should be for laying, and a lamp that keeps it. A lamp in a dusty house "
        "can start a fire: see the cautions that come with its times."
    )

    wanted_h: Annotated[float, Field(ge=6, le=16)] = Field(
        14.0,
        description="Wanted day length [h]; over 16 h would leave less than 8 h of dark "
        "(Defra compendium 8.4.4).",
    )
    counts: Literal["sunrise", "civil"] = Field(
        "sunrise",
        description=f"What counts as natural day: {', or '.join(COUNTS_WORDS.values())}.",
    )
    lamp: Literal["none", "morning", "evening", "both"] = Field(
        "none",
        description="When a lamp adds light. In the evening it can leave birds off the roost in "
        "the dark.",
    )
    lamp_from: Date | None = Field(
        None, description="First date of the lamp; without it, whenever the day is too short."
    )
    lamp_until: Date | None = Field(None, description="Last date of the lamp.")
    weekly_step_min: Annotated[int, Field(ge=1, le=60)] = Field(
        30, description="By how much the lamp may change the length of day in a week [min]."
    )
    least_burn_min: Annotated[int, Field(ge=0, le=240)] = Field(
        15,
        description="No burn is shorter than this [min] (common practice, no source); a shorter "
        "one is lengthened, never past 16 h of light.",
    )
    timer: Timer | None = Field(
        None,
        description="A plain timer that works the lamp, with the keys of `[timer]`: "
        "`daylatch settings --lamp` lists when to change it. It may be on that much earlier and "
        "off that much later, never the other way.",
    )

    @classmethod
    def examples(cls, around: Surroundings) -> dict[str, Any]:
        """Return what a new file shows of keys that have no default, for a place and a year."""
        lamp = around.seasons.lamp
        timer = {f"timer.{key}": value for key, value in Timer.EXAMPLES.items()}
        return {"lamp_from": lamp.first, "lamp_until": lamp.last, **timer}

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield f"a day of {self.wanted_h:g} h is wanted, counted from {COUNTS_WORDS[self.counts]}"
        yield {
            "none": "no lamp",
            "morning": "a lamp in the morning",
            "evening": "a lamp in the evening",
            "both": "a lamp in the morning and in the evening",
        }[self.lamp]
        burns = self.lamp != "none"
        begins, ends = ("begins", "ends") if burns else ("would begin", "would end")
        if self.lamp_from is not None:
            yield f"the lamp {begins} on {self.lamp_from}"
        if self.lamp_until is not None:
            yield f"the lamp {ends} on {self.lamp_until}"
        if self.lamp != "none" or chosen(self, "weekly_step_min"):
            yield f"a lamp changes the day by at most {self.weekly_step_min} min a week"
        if self.lamp != "none" or chosen(self, "least_burn_min"):
            yield f"a lamp burns for at least {self.least_burn_min} min"
        if self.timer is not None:
            yield f"a plain timer works it, with {_aim(self.timer)}"

    @model_validator(mode="after")
    def _has_programs_for_both(self) -> Laying:
        timer = self.timer
        if self.lamp == "both" and timer is not None and timer.programs is not None:
            needed = 2 * timer.needed_programs
            if timer.programs < needed:
                raise ValueError(
                    f'lamp = "both" burns twice a day, which takes {needed} programs, and '
                    f"timer.programs = {timer.programs}: use a timer that holds {needed}, or let "
                    "it burn in the morning alone"
                )
        return self

    @model_validator(mode="after")
    def _in_order(self) -> Laying:
        if self.lamp_from and self.lamp_until and self.lamp_until < self.lamp_from:
            raise ValueError(
                f"lamp_until ({self.lamp_until}) lies before lamp_from ({self.lamp_from}): "
                "swap the dates"
            )
        return self
