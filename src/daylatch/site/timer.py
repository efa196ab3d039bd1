"""The table of the site file that describes a plain timer: a few fixed times, changed by hand.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from pydantic import Field, PlainValidator, WithJsonSchema, model_validator

from daylatch.site.table import Table
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.ways import Ways

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
"""In the order of ISO 8601."""
TOLERANCE_MIN = 20
"""How late the door may move if the keeper says nothing (our choice, no source)."""
MOST_TOLERANCE_MIN = 720
MOST_CHANGES = 1000
MOST_CLOCK_MARGIN_MIN = 120
STEPS_MIN = (1, 5, 10, 15, 30)
MOVEMENTS = ("opening", "closing")
"""What it does each day, in this order; each takes a program."""

Weekdays = tuple[str, ...]


def _weekdays(value: Any) -> Weekdays | None:
    """Return a list of weekdays in their order; None if it is none."""
    if not isinstance(value, list) or not value or not all(day in WEEKDAYS for day in value):
        return None
    return tuple(day for day in WEEKDAYS if day in value)


def read_on(value: Any) -> str | Weekdays:
    """Return on which dates a timer may be changed.

    Raises
    ------
    ValueError
        If it is none of those.
    """
    days = _weekdays(value)
    if days is not None:
        return days
    if value in ("any", "month starts"):
        return str(value)
    raise ValueError('write "any", "month starts", or a list of weekdays like ["saturday"]')


def _read_by_weekday(value: Any) -> str | Weekdays:
    days = _weekdays(value)
    if days is not None and len(days) < len(WEEKDAYS):
        return days
    if value in ("same", "each"):
        return str(value)
    raise ValueError(
        'write "same", "each", or the weekdays that have settings of their own, like '
        '["saturday", "sunday"]'
    )


def _schema(*words: str) -> WithJsonSchema:
    days = {"type": "array", "items": {"enum": list(WEEKDAYS)}, "minItems": 1}
    return WithJsonSchema({"anyOf": [{"enum": list(words)}, days]})


On = Annotated[str | Weekdays, PlainValidator(read_on), _schema("any", "month starts")]
ByWeekday = Annotated[str | Weekdays, PlainValidator(_read_by_weekday), _schema("same", "each")]


def _day_names(days: str | Weekdays) -> str:
    return listed([day.capitalize() for day in days])


class Timer(Table):
    """A timer with fixed times that is changed by hand now and then."""

    ABOUT: ClassVar[str] = (
        "If the door is worked by a plain timer with fixed times that you change by hand: "
        "`daylatch settings` lists when, and to what."
    )

    tolerance_min: Annotated[int, Field(ge=0, le=MOST_TOLERANCE_MIN)] | None = Field(
        None,
        description="How late the door may move at most [min]; it is never early. If neither this "
        f"nor `changes` is given, {TOLERANCE_MIN}.",
    )
    changes: Annotated[int, Field(ge=1, le=MOST_CHANGES)] | None = Field(
        None,
        description="Instead: how many settings the list may have, the first one counted; without "
        "`together`, so many for opening and so many for closing.",
    )
    on: On = Field(
        "any", description="On which dates you will change it: any, the first of a month, weekdays."
    )
    together: bool = Field(
        True, description="Whether opening and closing are changed on the same dates."
    )
    step_min: Literal[1, 5, 10, 15, 30] = Field(
        1, description="The timer's steps [min]; times are rounded up to them."
    )
    clock_margin_min: Annotated[int, Field(ge=0, le=MOST_CLOCK_MARGIN_MIN)] = Field(
        0,
        description="How wrong its clock may be, fast or slow, with the tolerance still kept "
        "[min]; that takes twice as much of the tolerance.",
    )
    past_guard: bool = Field(
        False,
        description="Whether the door may close after the guard (`day.guard`) where the list is "
        "late; if not, it may be less late on those dates.",
    )
    programs: Annotated[int, Field(ge=1, le=1000)] | None = Field(
        None,
        description="How many programs it holds; a program is one time of switching and the "
        "weekdays it holds on.",
    )
    holds_dates: bool = Field(
        False,
        description="Whether its programs can each hold dates of their own, so that several "
        "settings are put in at once; needs `programs` and `together`. `changes` then counts how "
        "often they are put in.",
    )
    by_weekday: ByWeekday = Field(
        "same",
        description="Whether it keeps one setting for all weekdays, one for each, or one for "
        "some weekdays beside one for the rest.",
    )

    EXAMPLES: ClassVar[dict[str, Any]] = {
        "tolerance_min": TOLERANCE_MIN,
        "changes": 24,
        "programs": 8,
    }

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        if self.changes is not None:
            apart = "" if self.together else " each for opening and closing"
            yield f"at most {self.changes} settings{apart}"
        else:
            tolerance = TOLERANCE_MIN if self.tolerance_min is None else self.tolerance_min
            yield f"at most {tolerance} min late, never early"
        if self.on == "any":
            yield "changed on any date"
        elif self.on == "month starts":
            yield "changed on the first of a month"
        else:
            yield f"changed on {_day_names(self.on)}"
        if not self.together:
            yield "opening and closing on dates of their own"
        yield f"steps of {self.step_min} min"
        if self.clock_margin_min:
            yield f"its clock may be {self.clock_margin_min} min wrong"
        if self.past_guard:
            yield "it may close after the guard, where it is late"
        if self.programs is not None:
            yield f"it holds {self.programs} programs"
        if self.holds_dates:
            yield f"{self.at_once} settings are put in at once"
        if self.by_weekday != "same":
            own = "each weekday" if self.by_weekday == "each" else _day_names(self.by_weekday)
            yield f"settings of their own for {own}"

    @property
    def kinds(self) -> tuple[Weekdays, ...]:
        """The weekdays that share a setting, kind by kind; every weekday is in one of them."""
        if self.by_weekday == "same":
            return (WEEKDAYS,)
        if self.by_weekday == "each":
            return tuple((day,) for day in WEEKDAYS)
        own = tuple(self.by_weekday)
        return (tuple(day for day in WEEKDAYS if day not in own), own)

    @property
    def wanted_tolerance_min(self) -> int | None:
        """How late the door may move [min]; None where the changes are given."""
        if self.tolerance_min is None and self.changes is None:
            return TOLERANCE_MIN
        return self.tolerance_min

    @property
    def needed_programs(self) -> int:
        """How many programs its settings take."""
        return len(MOVEMENTS) * len(self.kinds)

    @property
    def at_once(self) -> int:
        """How many settings it can hold at once."""
        if not self.holds_dates or self.programs is None:
            return 1
        return self.programs // self.needed_programs

    @model_validator(mode="after")
    def _one_aim(self) -> Timer:
        if self.tolerance_min is not None and self.changes is not None:
            raise ValueError(
                "give tolerance_min, for the fewest settings that keep it, or changes, for the "
                "least lateness with so many; not both"
            )
        return self

    @model_validator(mode="after")
    def _holds_dates(self) -> Timer:
        if self.holds_dates and self.programs is None:
            raise ValueError(
                "holds_dates = true needs programs, to know how many settings go in at once: "
                f"write how many the timer holds, such as programs = {4 * self.needed_programs}"
            )
        if self.holds_dates and not self.together:
            raise ValueError(
                "holds_dates = true and together = false: a setting with dates has opening and "
                "closing: leave together out"
            )
        return self

    @model_validator(mode="after")
    def _holds_its_programs(self) -> Timer:
        needed = self.needed_programs
        if self.programs is not None and self.programs < needed:
            kinds = len(self.kinds)
            each = "" if kinds == 1 else f" for each of {kinds} kinds of weekday"
            remedy = "" if kinds == 1 else f', or by_weekday = "same", which needs {len(MOVEMENTS)}'
            raise ValueError(
                f"{listed(MOVEMENTS)}{each} need {needed} programs, and programs = "
                f"{self.programs}: use a timer that holds {needed}{remedy}"
            )
        return self
