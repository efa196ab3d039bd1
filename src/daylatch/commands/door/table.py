"""What ``daylatch plan --to table`` takes besides, and what it says beside the bytes."""

from __future__ import annotations

import json
import re
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from daylatch.cautions import CAUTION, NO_WEATHER
from daylatch.console import say
from daylatch.door.table import FORMS, HIGHEST_ADDRESS, TableWish
from daylatch.errors import UsageError
from daylatch.site.choices.works import MOST_WITHIN_MIN

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.tables import Site

# It takes from both ends of the width.
_MOST_CLOCK_MARGIN_MIN = MOST_WITHIN_MIN // 2
_BY_ENDING = {".h": "c", ".hex": "hex", ".ihx": "hex"}
_MOST_MEMORY = HIGHEST_ADDRESS + 1


class TableOptions(NamedTuple):
    """What was typed for a table; None and False where nothing was."""

    form: str | None = None
    within: str | None = None
    address: str | None = None
    every_year: bool = False
    clock_margin: str | None = None
    memory: str | None = None

    def refuse(self) -> None:
        """Refuse all of them, for any other form than a table.

        Raises
        ------
        UsageError
            If one was given.
        """
        for option, given in (
            ("--as", self.form),
            ("--within", self.within),
            ("--address", self.address),
            ("--every-year", self.every_year or None),
            ("--clock-margin", self.clock_margin),
            ("--memory", self.memory),
        ):
            if given is not None:
                raise UsageError(f"{option} is for controller tables: add --to table")

    def wish(self, output: Path | None = None) -> TableWish:
        """Return what they ask for.

        Parameters
        ----------
        output
            Where it goes: the end of its name says the form, if nothing else does.

        Raises
        ------
        UsageError
            If one cannot be read.
        """
        form = self.form or _BY_ENDING.get(output.suffix.lower() if output else "", "bin")
        if form not in FORMS:
            raise UsageError(f'--as is "{form}": write one of {", ".join(FORMS)}')
        if self.address is not None and form != "hex":
            raise UsageError("--address is for Intel HEX: add --as hex")
        wish = TableWish(
            form,
            self._within_min(),
            self._address(),
            self.every_year,
            self._clock_margin_min(),
            self._memory_bytes(),
        )
        if wish.memory_bytes is not None and wish.address >= wish.memory_bytes:
            raise UsageError(
                f"--address is 0x{wish.address:X}: lies past the device, whose --memory of "
                f"{wish.memory_bytes} bytes ends at 0x{wish.memory_bytes - 1:X}"
            )
        return wish

    def _within_min(self) -> int | None:
        if self.within is None:
            return None
        if not re.fullmatch(r"\d{1,3}", self.within, re.ASCII) or (
            int(self.within) > MOST_WITHIN_MIN
        ):
            raise UsageError(
                f'--within is "{self.within}": write how many minutes late a movement may come, '
                f"a whole number from 0 to {MOST_WITHIN_MIN}"
            )
        return int(self.within)

    def _clock_margin_min(self) -> int:
        if self.clock_margin is None:
            return 0
        if not re.fullmatch(r"\d{1,3}", self.clock_margin, re.ASCII) or (
            int(self.clock_margin) > _MOST_CLOCK_MARGIN_MIN
        ):
            raise UsageError(
                f'--clock-margin is "{self.clock_margin}": write how many minutes the '
                "controller's clock may be wrong, either way, a whole number from 0 to "
                f"{_MOST_CLOCK_MARGIN_MIN}"
            )
        return int(self.clock_margin)

    def _address(self) -> int:
        if self.address is None:
            return 0
        match = re.fullmatch(r"(?:0[xX])?([0-9A-Fa-f]{1,16})", self.address, re.ASCII)
        if match is None or int(match[1], 16) > HIGHEST_ADDRESS:
            raise UsageError(
                f'--address is "{self.address}": write a hexadecimal number such as 0x1F00, at '
                f"most 0x{HIGHEST_ADDRESS:X}"
            )
        return int(match[1], 16)

    def _memory_bytes(self) -> int | None:
        if self.memory is None:
            return None
        match = re.fullmatch(r"\d{1,10}|0[xX][0-9A-Fa-f]{1,9}", self.memory, re.ASCII)
        number = int(self.memory, 16 if "x" in self.memory.lower() else 10) if match else 0
        if not 1 <= number <= _MOST_MEMORY:
            raise UsageError(
                f'--memory is "{self.memory}": write how many bytes the device has, counted from '
                f"address 0, such as 1024 or 0x400, at most 0x{_MOST_MEMORY:X}"
            )
        return number


def by_site_file(wish: TableWish, site: Site, output: Path | None = None) -> TableWish:
    """Return a wish with what it leaves to the site file, and whether it is another than that asks.

    Parameters
    ----------
    wish
        What was typed.
    site
        Whose table it is.
    output
        Where it goes. The file that is in use is what due times are read from, however it was made.
    """
    door = site.settings.door
    if wish.within_min is None and not wish.every_year:
        wish = replace(wish, within_min=door.within_min)
    in_use = None if door.in_use is None else Path(site.folder) / door.in_use
    if in_use is not None and output is not None and _same(in_use, output):
        return wish
    lines = list(_what_would_make_it_so(wish, site, output))
    if not lines:
        return wish
    makes = f"to use it, write {' and '.join(lines)} under [door]"
    words = f"tried out: the site file says otherwise ({makes})"
    return replace(wish, tried_out=words)


def _what_would_make_it_so(wish: TableWish, site: Site, output: Path | None) -> Iterator[str]:
    """Yield the lines of the site file by which a table's minutes would be due."""
    door = site.settings.door
    if door.works != "controller":
        yield 'works = "controller"'
    if not wish.every_year and (wish.within_min or 0) != (door.within_min or 0):
        yield f"within_min = {wish.within_min}"
    if wish.every_year or wish.clock_margin_min or wish.within_min:
        # Its minutes hang on its dates, so the file alone knows them.
        name = "the name of this file" if output is None else output.name
        yield f"in_use = {json.dumps(name, ensure_ascii=False)}"


def _same(one: Path, other: Path) -> bool:
    return one.resolve() == other.resolve()


def refuse_terminal(wish: TableWish, output: Path | None) -> None:
    """Refuse to print bytes where a person would read them.

    Raises
    ------
    UsageError
        If standard output is a terminal.
    """
    if wish.form == "bin" and output is None and sys.stdout.isatty():
        raise UsageError(
            "a binary table is not for a terminal: add -o FILE, or --as c or --as hex to look at it"
        )


def say_cautions(wish: TableWish) -> None:
    """Print the cautions beside the forms that cannot carry them."""
    if wish.form != "c":
        say(f"{CAUTION} {NO_WEATHER}")
