"""Tables of the site file that describe the birds and where they live.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from daylatch.site.keys.units import converted, split_unit
from daylatch.site.table import Date, Sized, Table
from daylatch.site.values.measures import GIVEN_FIGURES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.measures import Measures
    from daylatch.site.values.surroundings import Surroundings
    from daylatch.site.values.ways import Ways

Area = Annotated[float, Field(gt=0, le=100_000)]
Length = Annotated[float, Field(gt=0, le=1000)]
Sides = Annotated[list[Annotated[float, Field(gt=0, le=200)]], Field(min_length=3, max_length=3)]
Vents = Annotated[float, Field(ge=0, le=1_000_000)]


class Flock(Table):
    """The birds."""

    ABOUT: ClassVar[str] = (
        "The birds. Here, and of the house and the run, what is left out counts as not known. Cold "
        "means that water freezes, hot that it is mostly above 32 °C (90 °F)."
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

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        if self.birds is not None:
            yield self.birds_text
        if self.counted_on is not None:
            yield f"counted on {self.counted_on}"
        if self.size is not None:
            yield f"{self.size} size"
        if self.temperature is not None:
            yield f"the weather is mostly {self.temperature}"


class Floor(Sized):
    """A floor area, in square metres or in square feet."""

    floor_m2: Area | None = Field(None, description="Floor area [m2].")
    floor_ft2: Area | None = Field(None, description="Floor area [sq ft].")

    @property
    def area_m2(self) -> float | None:
        """The floor area [m2]."""
        return self.size("floor", "m2")

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        if self.area_m2 is not None:
            unit = "m2" if self.floor_ft2 is None else "ft2"
            yield f"floor of {ways.measures.amount((self.area_m2,), unit, GIVEN_FIGURES)}"


# As read in SSI 2002/334 Sch. 3A 3(d), which is superseded and put that article into Scots law.
ROOST_APART_M = 0.30
"""Least distance between roosts side by side [m] (Directive 1999/74/EC Art. 4)."""
# What the arithmetic of units may lose, as a share.
_LOST = 1e-9


class House(Floor):
    """The house the birds sleep in."""

    ABOUT: ClassVar[str] = (
        "The house they sleep in. Each size is given once, in metric units or in feet and inches; "
        "so is what of the floor is littered, as a share or as an area."
    )

    # What the roosts are held against is read before them.
    wall_m: Length | None = Field(
        None, description="Length of wall that the roosts run along, counted once a roost [m]."
    )
    wall_ft: Length | None = Field(
        None, description="Length of wall that the roosts run along, counted once a roost [ft]."
    )
    roost_m: Length | None = Field(None, description="Length of all roosts together [m].")
    roost_ft: Length | None = Field(None, description="Length of all roosts together [ft].")
    nest_boxes: Annotated[int, Field(ge=0, le=10_000)] | None = Field(
        None, description="How many nest boxes."
    )
    nest_box_cm: Sides | None = Field(
        None, description="Width, depth and height of a nest box [cm]."
    )
    nest_box_in: Sides | None = Field(
        None, description="Width, depth and height of a nest box [in]."
    )
    vents_cm2: Vents | None = Field(None, description="Open area of all vents together [cm2].")
    vents_in2: Vents | None = Field(None, description="Open area of all vents together [sq in].")
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
        "wall_ft": 16,
        "roost_m": 1.8,
        "roost_ft": 6,
        "nest_boxes": 2,
        "nest_box_cm": [34, 34, 34],
        "nest_box_in": [13, 13, 13],
        "vents_cm2": 400,
        "vents_in2": 62,
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
            return self.size("littered", "m2")
        return None if self.area_m2 is None else self.littered_share * self.area_m2

    @property
    def roost_cm(self) -> float | None:
        """The length of all roosts [cm]."""
        return self.size("roost", "cm")

    @property
    def wall_length_m(self) -> float | None:
        """The length of wall that the roosts run along [m]."""
        return self.size("wall", "m")

    @property
    def nest_box_sides_cm(self) -> tuple[float, ...] | None:
        """Width, depth and height of a nest box [cm]."""
        found = self.given("nest_box")
        return found and tuple(converted(side, found[1], "cm") for side in found[0])

    @property
    def vents_area_cm2(self) -> float | None:
        """The open area of all vents [cm2]."""
        return self.size("vents", "cm2")

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield from super().told(ways)
        measures = ways.measures
        for stem, words in (("roost", "roost"), ("wall", "wall for roosts")):
            found = self.given(stem)
            if found is not None:
                yield f"{measures.given(*found)} of {words}"
        if self.nest_boxes is not None:
            yield "1 nest box" if self.nest_boxes == 1 else f"{self.nest_boxes or 'no'} nest boxes"
        if self.nest_box_sides_cm is not None:
            unit = "cm" if self.nest_box_in is None else "in"
            yield f"a nest box has {measures.sides(self.nest_box_sides_cm, unit)}"
        if self.vents_area_cm2 is not None:
            unit = "cm2" if self.vents_in2 is None else "in2"
            yield f"vents of {measures.amount((self.vents_area_cm2,), unit, GIVEN_FIGURES)}"
        for given, words in (
            (self.feed_inside, "feed inside"),
            (self.water_inside, "water inside"),
        ):
            if given is not None:
                yield words if given else f"no {words}"
        yield from self._told_of_litter(measures)

    def _told_of_litter(self, measures: Measures) -> Iterator[str]:
        match self.littered_share:
            case None:
                area = self.littered_area_m2
                if area is not None:
                    unit = "m2" if self.littered_ft2 is None else "ft2"
                    yield f"litter on {measures.amount((area,), unit, GIVEN_FIGURES)} of the floor"
            case 0:
                yield "no litter"
            case 1:
                yield "litter on the whole floor"
            case share:
                yield f"litter on {share * 100:.3g} % of the floor"

    @field_validator("roost_m", "roost_ft")
    @classmethod
    def _roost_has_room(cls, roost: float | None, info: ValidationInfo) -> float | None:
        if roost is None:
            return None
        key = info.field_name or ""
        unit = split_unit(key)[1]
        for wall in ("wall_m", "wall_ft"):
            length = info.data.get(wall)
            if length is None:
                continue
            most = converted(length, split_unit(wall)[1], unit)
            if roost > most * (1 + _LOST):
                raise ValueError(
                    f"is more roost than the wall it runs along ({wall} = {length:g}): shorten it, "
                    "or count a wall once for each roost along it"
                    f"{_if_in_feet(key, roost, most)}"
                )
            return roost
        floors = (("floor_m2", "m2"), ("floor_ft2", "ft2"))
        given = [(info.data[name], of) for name, of in floors if info.data.get(name) is not None]
        if given and converted(roost, unit, "m") * ROOST_APART_M > (
            floor_m2 := converted(*given[0], "m2")
        ) * (1 + _LOST):
            most = converted(floor_m2 / ROOST_APART_M, "m", unit)
            shown = math.floor(most * 100 + 1e-6) / 100
            raise ValueError(
                f"is more roost than the floor holds, at most {shown:g} {unit} with "
                f"{ROOST_APART_M:g} m between roosts (Directive 1999/74/EC Art. 4): correct the "
                f"roost or the floor, or add wall_{unit}, the length of wall that it runs along"
                f"{_if_in_feet(key, roost, most)}"
            )
        return roost

    @model_validator(mode="after")
    def _littered_once_and_on_the_floor(self) -> House:
        given = [key for key in self.model_fields_set if key.startswith("littered_")]
        if len(given) > 1:
            raise ValueError(
                "give the litter once, as littered_share, as littered_m2 or as littered_ft2"
            )
        littered_m2, floor_m2 = self.littered_area_m2, self.area_m2
        if littered_m2 and floor_m2 and littered_m2 > floor_m2 * (1 + _LOST):
            key = given[0]
            raise ValueError(
                f"{key} = {getattr(self, key):g} is more than the floor has: correct one of them, "
                f"or write littered_share = 1 if the whole floor is littered"
            )
        return self


def _if_in_feet(key: str, length: float, most: float) -> str:
    """Return what to write if a length was meant in feet; nothing if it is too much in feet too."""
    name, unit = split_unit(key)
    if unit == "ft" or converted(length, "ft", unit) > most:
        return ""
    return f"; if that is {length:g} feet, write {name}_ft = {length:g}"


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

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield from super().told(ways)
        if self.joined is not None:
            reach = "within" if self.joined else "out of"
            yield f"{reach} reach of the birds while the door is shut"
        if self.covered is not None:
            yield "with a roof" if self.covered else "without a roof"
