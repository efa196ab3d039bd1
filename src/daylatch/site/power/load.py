"""The table of the site file that says what the door and its electronics draw."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import Field

from daylatch.site.power.shares import given_words
from daylatch.site.table import Table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.ways import Ways

_Milliamperes = Annotated[float, Field(ge=0, le=100_000)]

_TOLD = {
    "voltage_v": "the door runs at {:g} V".format,
    "current_a": "its motor draws {:g} A".format,
    "movement_s": "a movement takes {:g} s".format,
    "standby_ma": "it draws {:g} mA all the time".format,
    "radio_ma": "a radio draws {:g} mA".format,
    "radio_min_day": "a radio is on for {:g} min a day".format,
}


class Load(Table):
    """What the door draws from its battery."""

    ABOUT: ClassVar[str] = (
        "What the door draws from its battery, for `daylatch power`: read it off the data sheet, "
        "or measure it. The standby current counts all day and mostly decides."
    )
    EXAMPLES: ClassVar[dict[str, Any]] = {
        "voltage_v": 12,
        "current_a": 0.6,
        "movement_s": 20,
        "radio_ma": 120,
        "radio_min_day": 5,
    }

    voltage_v: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        None, description="At which voltage it draws its currents [V]; the battery's if left out."
    )
    current_a: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        None, description="What the motor draws while the door moves [A]."
    )
    movement_s: Annotated[float, Field(gt=0, le=3600)] | None = Field(
        None, description="How long one movement takes [s]."
    )
    standby_ma: _Milliamperes = Field(
        0.0, description="What the electronics draw all day and night [mA]."
    )
    radio_ma: _Milliamperes | None = Field(
        None, description="What a radio draws more while it is on [mA]."
    )
    radio_min_day: Annotated[float, Field(ge=0, le=1440)] | None = Field(
        None, description="How long a radio is on each day [min]."
    )

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        yield from given_words(self, _TOLD)
