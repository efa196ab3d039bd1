"""What the tables of the site file are made of: their base, and the kinds of values of their keys.

Each kind says in its own message what would be right; what pydantic knows of a bound or a type,
`daylatch.site.messages` puts into words.
"""

import datetime as dt
import ipaddress
import re
import unicodedata
import uuid
from collections.abc import Collection
from enum import Enum
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, get_args, get_origin

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainValidator,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
)
from pydantic_core import PydanticKnownError

from daylatch.clock import WallTime
from daylatch.site.choices.calendar_styles import STYLES
from daylatch.site.choices.css_colors import read_color
from daylatch.site.choices.entry_kinds import ENTRY_KINDS
from daylatch.site.choices.works import WORKS
from daylatch.site.keys.units import converted, split_unit
from daylatch.site.messages import show_value
from daylatch.sun.lights import LIGHTS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.surroundings import Surroundings
    from daylatch.site.values.ways import Ways

NO_LIMIT = "none"
SHORT_NIGHT_H = 6.0
"""Under how many hours a night is short, if the keeper does not say (our choice, no source)."""
LONG_NIGHT_H = 14.0
"""From how many hours on a lock-in is long, if the keeper does not say (our choice, no source)."""
MOST_HOURS = 23 + 58 / 60
"""What least open time and least night may ask for together [h]."""
TEXT_LIMITS = {"name": 100, "reason": 200, "notes": 2000, "by_hand": 800, "call": 300}
TEXT_LIMITS |= {"if_missing": 400, "if_hurt": 400, "report": 300}
# Categories of Unicode whose characters nobody sees: they command a device, end a line, turn the
# reading direction of what follows, or hide in a word. Texts need a few of them: the joiners of
# Persian, Indian scripts and emoji, the tags of flags, and number signs that do show.
_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
_NEEDED = frozenset(
    map(
        chr,
        (
            *(0x200C, 0x200D, *range(0xE0020, 0xE0080)),
            *(*range(0x600, 0x606), 0x6DD, 0x70F, 0x890, 0x891, 0x8E2, 0x110BD, 0x110CD),
        ),
    )
)


class Choice(Enum):
    """Settings that are one word or phrase of a few."""


def check_text(text: str, *, lines: bool = False) -> str:
    """Return the text if it holds no invisible characters.

    Raises
    ------
    ValueError
        Naming the first one.
    """
    for character in text:
        if lines and character == "\n":
            continue
        if unicodedata.category(character) in _HIDDEN and character not in _NEEDED:
            raise ValueError(f"take out the invisible character U+{ord(character):04X}")
    return text


def check_name(text: str) -> str:
    """Return what a house is called, if it can be.

    Raises
    ------
    ValueError
        Saying what would be right.
    """
    check_text(text)
    if not 1 <= len(text) <= TEXT_LIMITS["name"]:
        raise ValueError(f"write 1 to {TEXT_LIMITS['name']} characters")
    return text


def spoken(word: str) -> str:
    """Return a word of a log or a door as it is compared: case and blanks around do not count."""
    return word.strip().casefold()


def words_of(teller: str, most: int, longest: int) -> AfterValidator:
    """Return what checks the words of a log or a door, each with what it means.

    Parameters
    ----------
    teller
        Whose words they are.
    most
        How many there may be.
    longest
        How many characters each may have.
    """

    def check(words: dict[str, str]) -> dict[str, str]:
        if not 1 <= len(words) <= most:
            raise ValueError(f"write 1 to {most} words of the {teller}, each with a kind of entry")
        said: dict[str, str] = {}
        for word in words:
            if len(word) > longest:
                raise ValueError(f"{show_value(word)} is too long: at most {longest} characters")
            check_text(word)
            other = said.setdefault(spoken(word), word)
            if other != word:
                raise ValueError(
                    f"{show_value(other)} and {show_value(word)} are the same word, since case and "
                    "blanks around do not count: drop one"
                )
        return words

    return AfterValidator(check)


_HOST_PART = re.compile(r"(?!-)[A-Za-z0-9_-]{1,63}(?<!-)", re.ASCII)


def is_host(text: str) -> bool:
    """Return whether a text can be a computer's name or address, without a port."""
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return all(_HOST_PART.fullmatch(part) for part in text.split("."))
    return True


def is_target(name: str) -> bool:
    """Return whether somebody who is told of alarms can be called so."""
    return bool(re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9 _-]{0,39}", name, re.ASCII))


def _target(name: str) -> str:
    if not is_target(name):
        raise ValueError('write a name of letters and digits, such as "phone"')
    return name


def _line(text: Any) -> Any:
    return check_text(text) if isinstance(text, str) else text


def _lines(text: Any) -> Any:
    return check_text(text, lines=True) if isinstance(text, str) else text


def _wall_time(value: Any) -> WallTime:
    if isinstance(value, dt.time):
        if value.second or value.microsecond:
            raise ValueError("write whole minutes, like 06:30:00")
        return WallTime(value.hour * 60 + value.minute)
    if not isinstance(value, str):
        raise ValueError('write a 24-hour time in quotes, like "06:30"')
    return WallTime.parse(value)


def _limit(value: Any) -> WallTime | None:
    return None if value == NO_LIMIT else _wall_time(value)


def _depression(value: Any, names: list[str]) -> float | str:
    if isinstance(value, str) and value in names:
        return value
    if isinstance(value, int | float) and not isinstance(value, bool) and -20 <= value <= 30:
        return float(value)
    raise ValueError(
        f"write one of {', '.join(names)}, or degrees of the Sun's centre below the horizon "
        "(-20 to 30)"
    )


def _light(names: list[str]) -> tuple[PlainValidator, WithJsonSchema]:
    """Return what reads a depression by one of these names or as a number, and its schema."""
    schema = {"anyOf": [{"enum": names}, {"type": "number", "minimum": -20, "maximum": 30}]}
    return PlainValidator(lambda value: _depression(value, names)), WithJsonSchema(schema)


def one_of(names: Collection[str]) -> tuple[PlainValidator, WithJsonSchema]:
    """Return what reads one of these names, and its schema; both as a Literal of them has it."""

    def read(value: Any) -> str:
        if isinstance(value, str) and value in names:
            return value
        *others, last = (f"'{name}'" for name in names)
        raise PydanticKnownError("literal_error", {"expected": f"{', '.join(others)} or {last}"})

    return PlainValidator(read), WithJsonSchema({"enum": list(names), "type": "string"})


def _date(value: Any) -> Any:
    if isinstance(value, str):
        try:
            # The library also reads other forms of ISO 8601, such as weeks.
            if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", value, re.ASCII):
                raise ValueError
            return dt.date.fromisoformat(value)
        except ValueError:
            raise ValueError("write a date of the calendar, like 2027-01-31") from None
    return value


def _uuid(value: Any) -> str:
    try:
        return str(uuid.UUID(value))
    except (ValueError, AttributeError, TypeError):
        raise ValueError(
            "write a UUID such as `daylatch new` puts there (32 hexadecimal digits), and never "
            "change it afterwards"
        ) from None


ONE_LINE = BeforeValidator(_line)
SEVERAL_LINES = BeforeValidator(_lines)
"""What texts of a keeper's may not hold: invisible characters, and line ends in the first."""
_TIME_SCHEMA = {"type": "string", "pattern": r"^([01]?\d|2[0-3]):[0-5]\d$"}
Time = Annotated[WallTime, PlainValidator(_wall_time), WithJsonSchema(_TIME_SCHEMA)]
Limit = Annotated[
    WallTime | None,
    PlainValidator(_limit),
    WithJsonSchema({"anyOf": [_TIME_SCHEMA, {"const": NO_LIMIT}]}),
]
Date = Annotated[dt.date, BeforeValidator(_date)]
Identity = Annotated[str, PlainValidator(_uuid), WithJsonSchema({"type": "string"})]
Color = Annotated[str, PlainValidator(read_color), WithJsonSchema({"type": "string"})]
StyleName = Annotated[str, *one_of(STYLES)]
WorksName = Annotated[str, *one_of(WORKS)]
TargetName = Annotated[str, AfterValidator(_target)]
KindsByWord = dict[str, Annotated[str, *one_of([*ENTRY_KINDS, ""])]]
"""What words of a log or a door mean, each a kind of entry, or nothing for those to pass over."""
Hours = Annotated[float, Field(ge=0, le=MOST_HOURS)]
OpenLight = Annotated[float | str, *_light([light.opens for light in LIGHTS])]
CloseLight = Annotated[float | str, *_light([light.closes for light in LIGHTS])]
Guard = Annotated[float | str, *_light([light.opens for light in LIGHTS if light.guards])]


def empty_list() -> list[Any]:
    """Return what a key has that lists nothing.

    Of `list` itself pydantic would ask the signature, which takes 5 ms of every run to find.
    """
    return []


class Table(BaseModel):
    """One table of the file: unknown keys are slips, and nothing changes after reading.

    A table carries all that is said of it: its keys with their descriptions, what a new file says
    above it, examples, and how `daylatch check` tells it.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, defer_build=True)

    ABOUT: ClassVar[str] = ""
    """What a new file says above it."""
    EXAMPLES: ClassVar[dict[str, Any]] = {}
    """What it shows of keys that have no default, where that is the same anywhere."""

    @classmethod
    def examples(cls, around: "Surroundings") -> dict[str, Any]:
        """Return what a new file shows of keys that have no default, for a place and a year."""
        return cls.EXAMPLES

    def told(self, ways: "Ways") -> "Iterator[str]":
        """Yield what it says in a keeper's words, and in the keeper's way of writing.

        Nothing, if that is told another way.
        """
        yield from ()


class Sized(Table):
    """A table with sizes, each given once, in metric units or in those of the USA."""

    def given(self, stem: str) -> tuple[Any, str] | None:
        """Return a size as it is given, with its unit; None without it.

        Parameters
        ----------
        stem
            The name of its keys without the unit, such as ``floor``.
        """
        for key in type(self).model_fields:
            name, unit = split_unit(key)
            value = getattr(self, key)
            if name == stem and unit and value is not None:
                return value, unit
        return None

    def size(self, stem: str, unit: str) -> float | None:
        """Return a size in a unit; None without it."""
        found = self.given(stem)
        return None if found is None else converted(*found, unit)

    @field_validator("*")
    @classmethod
    def _given_once(cls, value: Any, info: ValidationInfo) -> Any:
        name, unit = split_unit(info.field_name or "")
        if not unit or value is None:
            return value
        others = [key for key in cls.model_fields if split_unit(key)[0] == name]
        if any(info.data.get(key) is not None for key in others):
            raise ValueError(f"give it once, as {' or as '.join(others)}")
        return value


def lists_in(model: type[BaseModel]) -> dict[str, type[Table]]:
    """Return the lists of tables within a table: what an entry is read as, by the list's key."""
    return {
        key: entry
        for key, field in model.model_fields.items()
        if get_origin(field.annotation) is list
        for entry in get_args(field.annotation)
        if isinstance(entry, type) and issubclass(entry, Table)
    }


def chosen(table: BaseModel | None, *keys: str) -> list[str]:
    """Return those of a table's keys to which the file gives another value than the default.

    A default that is written down says nothing new. Without any keys, all of the table are looked
    at; a table that is left out has none.
    """
    if table is None:
        return []
    fields = type(table).model_fields
    return [
        key
        for key in keys or fields
        if key in table.model_fields_set
        and getattr(table, key) != fields[key].get_default(call_default_factory=True)
    ]
