"""What the tables of power have in common: shares of one, lists by month, and how each is told."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from pydantic import BaseModel

MONTHS = 12


def _of_one(value: Any) -> Any:
    """Refuse a share in percent, with what it is as a part of one."""
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if is_number and 1 < value <= 100:
        raise ValueError(
            f"is more than all of it, which is 1: write {value / 100:g} for {value:g} %"
        )
    return value


def _a_year(values: list[float]) -> list[float]:
    if len(values) != MONTHS:
        raise ValueError(
            f"write {MONTHS} numbers, from January to December; here are {len(values)}"
        )
    return values


Share = Annotated[float, BeforeValidator(_of_one), Field(ge=0, le=1)]
"""A part of a whole, from 0 to 1."""
_EACH_MONTH = (
    AfterValidator(_a_year),
    Field(json_schema_extra={"minItems": MONTHS, "maxItems": MONTHS}),
)
LightByMonth = Annotated[list[Annotated[float, Field(ge=0, le=1000)]], *_EACH_MONTH]
CelsiusByMonth = Annotated[list[Annotated[float, Field(ge=-60, le=60)]], *_EACH_MONTH]
"""A number for each month, from January to December."""


def ends_of(values: list[float]) -> str:
    """Return the least and the most of some values, in words."""
    return f"{min(values):g} to {max(values):g}"


def given_words(table: BaseModel, words: Mapping[str, Callable[[Any], str]]) -> Iterator[str]:
    """Yield what each key of a table that the file gives says, in the order of the words."""
    for key, of in words.items():
        value = getattr(table, key)
        if key in table.model_fields_set and value is not None:
            yield of(value)
