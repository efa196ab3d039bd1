"""Tables of the site file that describe the birds and where they live.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from daylatch.site.measures import FT2, GIVEN_FIGURES, both_text, sides_text
from daylatch.site.table import Date, Table, chosen
from daylatch.site.timer import TOLERANCE_MIN, Timer

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.surroundings import Surroundings

Area = Annotated[float, Field(gt=0, le=100_000)]


class Flock(Table):
    """The birds."""

    ABOUT: ClassVar[str] = (
        "The birds. Here, and of the house and the run, what is left out counts as not known. Cold "
        "means that water freezes, hot that it is mostly above 32 °C."
    )

    birds: Annotated[int, Field(ge=1, le=100_000)] | None = Field(None, description="How many.")
    size: Literal["bantam", "light", "medium", "heavy"] | None = Field(
        None, description="Size class of the breed."
    )
    temperature: Literal["cold", "mild", "hot"] | None = Field(
        None, description="What the weather is mostly like; scales water if its norm says how."
    )

    @classmethod
    def examples(cls, around: Surroundings) -> dict[str, Any]:
        """Return what a new file shows of keys that have no default, for a place and a year."""
        return {"birds": 6, "size": "medium", "temperature": around.climate.temperature}

    def told(self) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        if self.birds is not None:
            yield "1 bird" if self.birds == 1 else f"{self.birds} birds"
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


ROOST_APART_M = 0.30
"""Least distance between roosts side by side [m] (SSI 2002/334 Sch. 3A 3(d))."""


class House(Floor):
    """The house the birds sleep in."""

    ABOUT: ClassVar[str] = (
        "The house they sleep in. Its floor is given once, in square metres or square feet."
    )

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
        "litter": True,
    }

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
            (self.litter, "litter on the whole floor"),
        ):
            if given is not None:
                yield words if given else f"no {words}"

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


COUNTS_WORDS = {"sunrise": "sunrise to sunset", "civil": "civil dawn to civil dusk"}
"""What ``laying.counts`` means."""


def _aim(timer: Timer) -> str:
    if timer.changes is not None:
        return f"at most {timer.changes} settings"
    tolerance = TOLERANCE_MIN if timer.tolerance_min is None else timer.tolerance_min
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

    def told(self) -> Iterator[str]:
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
