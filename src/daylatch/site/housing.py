"""Tables of the site file that describe the birds and where they live.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from daylatch.site.measures import FT2
from daylatch.site.table import Date, Table

Area = Annotated[float, Field(gt=0, le=100_000)]


class Flock(Table):
    """The birds."""

    birds: Annotated[int, Field(ge=1, le=100_000)] | None = Field(None, description="How many.")
    size: Literal["bantam", "light", "medium", "heavy"] | None = Field(
        None, description="Size class of the breed."
    )
    temperature: Literal["cold", "mild", "hot"] | None = Field(
        None, description="What the weather is mostly like; scales water if its norm says how."
    )


def area_m2(floor_m2: float | None, floor_ft2: float | None) -> float | None:
    """Return a floor area that is given in one of two units [m2]."""
    return floor_m2 if floor_ft2 is None else floor_ft2 * FT2


class Floor(Table):
    """A floor area, in square metres or in square feet."""

    floor_m2: Area | None = Field(None, description="Floor area [m2].")
    floor_ft2: Area | None = Field(None, description="Floor area [sq ft].")

    @property
    def area_m2(self) -> float | None:
        """The floor area [m2]."""
        return area_m2(self.floor_m2, self.floor_ft2)

    @model_validator(mode="after")
    def _one_unit(self) -> Floor:
        if self.floor_m2 is not None and self.floor_ft2 is not None:
            raise ValueError("give the floor once, as floor_m2 or as floor_ft2")
        return self


ROOST_APART_M = 0.30
"""Least distance between roosts side by side [m] (SSI 2002/334 Sch. 3A 3(d))."""


class House(Floor):
    """The house the birds sleep in."""

    wall_m: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        None, description="Length of wall that the roosts run along, counted once a roost [m]."
    )
    roost_m: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        None, description="Length of all roosts together [m]."
    )
    nest_boxes: Annotated[int, Field(ge=0, le=10_000)] | None = Field(None, description="How many.")
    nest_box_cm: (
        Annotated[list[Annotated[float, Field(gt=0, le=200)]], Field(min_length=3, max_length=3)]
        | None
    ) = Field(None, description="Width, depth and height of a nest box [cm].")
    vents_cm2: Annotated[float, Field(ge=0, le=1_000_000)] | None = Field(
        None, description="Open area of the vents [cm2]."
    )
    feed_inside: bool | None = Field(
        None, description="Whether the birds reach feed while the door is shut."
    )
    water_inside: bool | None = Field(
        None, description="Whether the birds reach water while the door is shut."
    )
    litter: bool | None = Field(None, description="Whether the whole floor is littered.")

    # The wall and the floor are read before it.
    @field_validator("roost_m")
    @classmethod
    def _roost_has_room(cls, roost_m: float | None, info: ValidationInfo) -> float | None:
        if roost_m is None:
            return None
        wall_m = info.data.get("wall_m")
        if wall_m is not None:
            if roost_m > wall_m:
                raise ValueError(
                    f"is more roost than the wall it runs along (wall_m = {wall_m:g}): shorten it, "
                    "or count a wall once for each roost along it"
                )
            return roost_m
        floor_m2 = area_m2(info.data.get("floor_m2"), info.data.get("floor_ft2"))
        # A part in a thousand million is lost in the arithmetic of square feet.
        if floor_m2 is not None and roost_m * ROOST_APART_M > floor_m2 * (1 + 1e-9):
            most_m = math.floor(floor_m2 / ROOST_APART_M * 100 + 1e-6) / 100
            raise ValueError(
                f"is more roost than the floor holds, at most {most_m:g} m with {ROOST_APART_M:g} "
                "m between roosts (SSI 2002/334 Sch. 3A 3(d)): correct the roost or the floor, or "
                "add wall_m, the length of wall that it runs along"
            )
        return roost_m


class Run(Floor):
    """The enclosed run beside the house."""

    joined: bool | None = Field(
        None, description="Whether the birds reach it while the door is shut."
    )
    covered: bool | None = Field(None, description="Whether it has a roof.")


COUNTS_WORDS = {"sunrise": "sunrise to sunset", "civil": "civil dawn to civil dusk"}
"""What ``laying.counts`` means."""


class Laying(Table):
    """The length of day that the keeper wants for laying, and a lamp that keeps it."""

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

    @model_validator(mode="after")
    def _in_order(self) -> Laying:
        if self.lamp_from and self.lamp_until and self.lamp_until < self.lamp_from:
            raise ValueError(
                f"lamp_until ({self.lamp_until}) lies before lamp_from ({self.lamp_from}): "
                "swap the dates"
            )
        return self
