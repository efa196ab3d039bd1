"""Tables of the site file that describe the birds and where they live.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from daylatch.site.keys.units import converted
from daylatch.site.table import Date, Table
from daylatch.site.values.measures import (
    FT2,
    GIVEN_FIGURES,
    both_text,
    figure_text,
    sides_text,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.surroundings import Surroundings

Area = Annotated[float, Field(gt=0, le=100_000)]


class Flock(Table):
    """The birds."""

    ABOUT: ClassVar[str] = (
        "The birds. Here, and of the house and the run, what is left out counts as not known. Cold "
        "means that water freezes, hot that it is mostly above 32 °C."
    )

    birds: Annotated[int, Field(ge=1, le=100_000)] | None = Field(
        None, description="How many birds."
    )
    counted_on: Date | None = Field(
        None,
        description="When the birds were counted: the diary's losses and gains from the day after "
        "are added and taken off; all of them if left out.",
    )
    size: Literal["bantam", "light", "medium", "heavy"] | None = Field(
        None, description="How large the breed is."
    )
    temperature: Literal["cold", "mild", "hot"] | None = Field(
        None,
        description="What the weather is mostly like; in heat more water is counted, if its norm "
        "says how much.",
    )

    @classmethod
    def examples(cls, around: Surroundings) -> dict[str, Any]:
        """Return what a new file shows of keys that have no default, for a place and a year."""
        return {
            "birds": 6,
            # Examples lie in the coming year, and birds were counted in the past.
            "counted_on": dt.date(around.year - 1, 1, 1),
            "size": "medium",
            "temperature": around.climate.temperature,
        }

    @property
    def birds_text(self) -> str:
        """How many there are; empty if that is not known."""
        if self.birds is None:
            return ""
        return "1 bird" if self.birds == 1 else f"{self.birds} birds"

    def told(self) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        if self.birds is not None:
            yield self.birds_text
        if self.counted_on is not None:
            yield f"counted on {self.counted_on}"
        if self.size is not None:
            yield f"{self.size} size"
        if self.temperature is not None:
            yield f"the weather is mostly {self.temperature}"


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

    def told(self) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        if self.area_m2 is not None:
            unit = "m2" if self.floor_ft2 is None else "ft2"
            yield f"floor of {both_text((self.area_m2,), unit, GIVEN_FIGURES)}"

    @model_validator(mode="after")
    def _one_unit(self) -> Floor:
        if self.floor_m2 is not None and self.floor_ft2 is not None:
            raise ValueError("give the floor once, as floor_m2 or as floor_ft2")
        return self


# As read in SSI 2002/334 Sch. 3A 3(d), which is superseded and put that article into Scots law.
ROOST_APART_M = 0.30
"""Least distance between roosts side by side [m] (Directive 1999/74/EC Art. 4)."""


class House(Floor):
    """The house the birds sleep in."""

    ABOUT: ClassVar[str] = (
        "The house they sleep in. Its floor is given once, in square metres or square feet; so is "
        "what of it is littered, as a share or as an area."
    )

    wall_m: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        None, description="Length of wall that the roosts run along, counted once a roost [m]."
    )
    roost_m: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        None, description="Length of all roosts together [m]."
    )
    nest_boxes: Annotated[int, Field(ge=0, le=10_000)] | None = Field(
        None, description="How many nest boxes."
    )
    nest_box_cm: (
        Annotated[list[Annotated[float, Field(gt=0, le=200)]], Field(min_length=3, max_length=3)]
        | None
    ) = Field(None, description="Width, depth and height of a nest box [cm].")
    vents_cm2: Annotated[float, Field(ge=0, le=1_000_000)] | None = Field(
        None, description="Open area of all vents together [cm2]."
    )
    feed_inside: bool | None = Field(
        None, description="Whether the birds reach feed while the door is shut."
    )
    water_inside: bool | None = Field(
        None, description="Whether the birds reach water while the door is shut."
    )
    littered_share: Annotated[float, Field(ge=0, le=1)] | None = Field(
        None, description="Which share of the floor is littered: 1 all of it, 0 none."
    )
    littered_m2: Area | None = Field(None, description="Littered area of the floor [m2].")
    littered_ft2: Area | None = Field(None, description="Littered area of the floor [sq ft].")

    EXAMPLES: ClassVar[dict[str, Any]] = {
        "floor_m2": 1.5,
        "floor_ft2": 16,
        "wall_m": 4.8,
        "roost_m": 1.8,
        "nest_boxes": 2,
        "nest_box_cm": [34, 34, 34],
        "vents_cm2": 400,
        "feed_inside": False,
        "water_inside": False,
        "littered_share": 1,
        "littered_m2": 1.5,
        "littered_ft2": 16,
    }

    @property
    def littered_area_m2(self) -> float | None:
        """The littered area [m2]; None if it, or the floor that it is a share of, is not known."""
        if self.littered_share is None:
            return area_m2(self.littered_m2, self.littered_ft2)
        return None if self.area_m2 is None else self.littered_share * self.area_m2

    def told(self) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield from super().told()
        if self.roost_m is not None:
            yield f"{self.roost_m:g} m of roost"
        if self.wall_m is not None:
            yield f"{self.wall_m:g} m of wall for roosts"
        if self.nest_boxes is not None:
            yield "1 nest box" if self.nest_boxes == 1 else f"{self.nest_boxes or 'no'} nest boxes"
        if self.nest_box_cm is not None:
            yield f"a nest box has {sides_text(tuple(self.nest_box_cm), 'cm')}"
        if self.vents_cm2 is not None:
            yield f"vents of {both_text((self.vents_cm2,), 'cm2', GIVEN_FIGURES)}"
        for given, words in (
            (self.feed_inside, "feed inside"),
            (self.water_inside, "water inside"),
        ):
            if given is not None:
                yield words if given else f"no {words}"
        yield from self._told_of_litter()

    def _told_of_litter(self) -> Iterator[str]:
        match self.littered_share:
            case None:
                area = area_m2(self.littered_m2, self.littered_ft2)
                if area is not None:
                    unit = "m2" if self.littered_ft2 is None else "ft2"
                    yield f"litter on {both_text((area,), unit, GIVEN_FIGURES)} of the floor"
            case 0:
                yield "no litter"
            case 1:
                yield "litter on the whole floor"
            case share:
                yield f"litter on {share * 100:.3g} % of the floor"

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
                    f"{if_in_feet('roost_m', roost_m, wall_m)}"
                )
            return roost_m
        floor_m2 = area_m2(info.data.get("floor_m2"), info.data.get("floor_ft2"))
        # A part in a thousand million is lost in the arithmetic of square feet.
        if floor_m2 is not None and roost_m * ROOST_APART_M > floor_m2 * (1 + 1e-9):
            most_m = math.floor(floor_m2 / ROOST_APART_M * 100 + 1e-6) / 100
            raise ValueError(
                f"is more roost than the floor holds, at most {most_m:g} m with {ROOST_APART_M:g} "
                "m between roosts (Directive 1999/74/EC Art. 4): correct the roost or the floor, "
                "or add wall_m, the length of wall that it runs along"
                f"{if_in_feet('roost_m', roost_m, floor_m2 / ROOST_APART_M)}"
            )
        return roost_m

    @model_validator(mode="after")
    def _littered_once_and_on_the_floor(self) -> House:
        given = [key for key in self.model_fields_set if key.startswith("littered_")]
        if len(given) > 1:
            raise ValueError(
                "give the litter once, as littered_share, as littered_m2 or as littered_ft2"
            )
        littered_m2, floor_m2 = self.littered_area_m2, self.area_m2
        if littered_m2 and floor_m2 and littered_m2 > floor_m2 * (1 + 1e-9):
            key = given[0]
            raise ValueError(
                f"{key} = {getattr(self, key):g} is more than the floor has: correct one of them, "
                f"or write littered_share = 1 if the whole floor is littered"
            )
        return self


def if_in_feet(key: str, length: float, most_m: float) -> str:
    """Return what to write if a length was meant in feet; nothing if it is too much in feet too."""
    metres = converted(length, "ft", "m")
    if metres > most_m:
        return ""
    return f"; if that is {length:g} feet, write {key} = {figure_text(metres)}"


class Run(Floor):
    """The enclosed run beside the house."""

    ABOUT: ClassVar[str] = "The run beside it. Its floor is given once too."

    joined: bool | None = Field(
        None, description="Whether the birds reach it while the door is shut."
    )
    covered: bool | None = Field(None, description="Whether it has a roof.")

    EXAMPLES: ClassVar[dict[str, Any]] = {
        "floor_m2": 8,
        "floor_ft2": 86,
        "joined": False,
        "covered": False,
    }

    def told(self) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield from super().told()
        if self.joined is not None:
            reach = "within" if self.joined else "out of"
            yield f"{reach} reach of the birds while the door is shut"
        if self.covered is not None:
            yield "with a roof" if self.covered else "without a roof"
