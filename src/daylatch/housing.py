"""Tables of the site file that describe the birds and where they live.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from daylatch.site import Table

Area = Annotated[float, Field(gt=0, le=100_000)]


class Flock(Table):
    """The birds."""

    birds: Annotated[int, Field(ge=1, le=100_000)] | None = Field(None, description="How many.")
    size: Literal["bantam", "light", "medium", "heavy"] | None = Field(
        None, description="Size class of the breed."
    )


class Floor(Table):
    """A floor area, in square metres or in square feet."""

    floor_m2: Area | None = Field(None, description="Floor area [m2].")
    floor_ft2: Area | None = Field(None, description="Floor area [sq ft].")

    @model_validator(mode="after")
    def _one_unit(self) -> Floor:
        if self.floor_m2 is not None and self.floor_ft2 is not None:
            raise ValueError("give the floor once, as floor_m2 or as floor_ft2")
        return self


class House(Floor):
    """The house the birds sleep in."""

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
    feed_inside: bool | None = Field(None, description="Whether feed stands in the house.")
    water_inside: bool | None = Field(None, description="Whether water stands in the house.")
    litter: bool | None = Field(None, description="Whether the floor is littered.")


class Run(Floor):
    """The enclosed run beside the house."""

    joined: bool | None = Field(
        None, description="Whether the birds reach it while the door is shut."
    )
    covered: bool | None = Field(None, description="Whether it has a roof.")
