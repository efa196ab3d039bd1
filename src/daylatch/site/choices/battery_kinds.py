"""What a door's battery can be, a line a kind, and the sizes of its cells.

From its line follow what ``battery.kind`` takes and what is said of it, the defaults of the other
keys, and how `daylatch power` reckons with it. Every figure is common practice without a source,
unless it says otherwise; a keeper who has the data sheet writes its figures into the site file.
"""

from __future__ import annotations

from typing import NamedTuple

from daylatch.wording import listed


class BatteryKind(NamedTuple):
    """One kind of battery.

    Attributes
    ----------
    name : str
        What the site file calls it.
    words : str
        What it is, for a sentence.
    charge_efficiency : float
        Share of what is brought to it that it keeps; 0 for one that must never be charged.
    self_discharge_month : float
        Share of its charge that it loses in a month.
    cut_off : float
        Share of full under which the door should stop.
    charges_in_frost : bool
        Whether it may be charged below 0 °C.
    """

    name: str
    words: str
    charge_efficiency: float
    self_discharge_month: float
    cut_off: float
    charges_in_frost: bool = True

    @property
    def is_rechargeable(self) -> bool:
        """Whether it may be charged at all."""
        return self.charge_efficiency > 0


BATTERY_KINDS = {
    kind.name: kind
    for kind in (
        # Half of its charge is left in it, because deep discharges shorten its life.
        BatteryKind("lead", "a lead-acid battery", 0.85, 0.04, 0.5),
        # No charging below 0 °C: data sheets of such cells.
        BatteryKind(
            "lithium iron phosphate",
            "a lithium iron phosphate battery",
            0.95,
            0.03,
            0.2,
            charges_in_frost=False,
        ),
        # The same, from memory.
        BatteryKind(
            "lithium ion", "a lithium-ion battery", 0.95, 0.03, 0.2, charges_in_frost=False
        ),
        BatteryKind("nickel metal hydride", "nickel metal hydride cells", 0.7, 0.2, 0.1),
        BatteryKind("alkaline", "alkaline cells", 0.0, 0.003, 0.2),
    )
}


CELL_WH = {
    "alkaline": {"AAA": 1.3, "AA": 3.0, "C": 9.0, "D": 18.0},
    "nickel metal hydride": {"AAA": 1.0, "AA": 2.4, "C": 5.4, "D": 10.8},
}
"""What one cell of a size holds at a slow discharge [Wh], by the kinds that are sold as such cells
(typical figures, from memory, no source)."""
CELL_V = {"alkaline": 1.5, "nickel metal hydride": 1.2}
"""The voltage of one cell that is printed on it [V]."""
CELL_SIZES = ("AAA", "AA", "C", "D")


def list_battery_kinds() -> str:
    """Return what each kind is, for a sentence."""
    return listed([kind.words for kind in BATTERY_KINDS.values()], "or")
