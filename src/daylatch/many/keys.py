"""The columns of a table of sites that are keys of the site file, and what their cells set."""

from __future__ import annotations

import datetime as dt
import json
import math
from typing import TYPE_CHECKING, Any

from daylatch.errors import UsageError
from daylatch.many.rows import PLACE
from daylatch.site.keys.unknown import unknown_key
from daylatch.site.messages import LISTS_OF_TABLES, toml_text
from daylatch.site.tables import TABLES, Head, table_model
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# What a row's own columns say, or what is made of its id.
_OF_THE_ROW = "place"
_OF_ONE_HOUSE = "door.in_use"
_OF_THE_HEAD = [name for name in Head.model_fields if name != "id"]


def key_columns(file: str, names: Iterable[str]) -> tuple[str, ...]:
    """Return the columns that are keys, in the order of the table.

    Parameters
    ----------
    file
        The table's name, for messages.
    names
        All of its columns.

    Raises
    ------
    UsageError
        Naming every column that is neither a key nor one of `PLACE`.
    """
    keys = tuple(name for name in names if name not in PLACE)
    wrong = [
        f"{file}: column {name or 'without a name'} {words}"
        for name in keys
        if (words := _wrong(name))
    ]
    if wrong:
        raise UsageError(*wrong)
    return keys


def _wrong(name: str) -> str:
    """Return what is wrong with a column's name; nothing if it is a key."""
    table, _, key = name.partition(".")
    if not key:
        if name in _OF_THE_HEAD:
            return ""
        dotted = _dotted_like(name)
        if dotted:
            return f"is not a key here; did you mean {listed(dotted, 'or')}?"
        return unknown_key(name, [*PLACE, *_OF_THE_HEAD])
    if name == _OF_ONE_HOUSE:
        return "is no column here: a file is in the door of one house"
    if table == _OF_THE_ROW:
        return "is no column here: the place is in latitude, longitude and zone"
    if (table,) in LISTS_OF_TABLES:
        return f"is no column here: put [[{table}]] into the file given as --like"
    if table not in TABLES:
        return unknown_key(table, [*PLACE, *TABLES])
    fields = [field.alias or one for one, field in table_model(table).model_fields.items()]
    return "" if key in fields else unknown_key(key, fields)


def _dotted_like(name: str) -> list[str]:
    """Return the keys of any table that are called so, with their table."""
    return [f"{table}.{name}" for table in TABLES if name in table_model(table).model_fields]


def is_given(cell: Any) -> bool:
    """Return whether a cell says anything."""
    if isinstance(cell, float) and math.isnan(cell):
        return False
    return cell is not None and not (isinstance(cell, str) and not cell.strip())


def settings_of(keys: Sequence[str], cells: Sequence[Any], *, as_text: bool = False) -> list[str]:
    """Return what the cells of a row set, as `daylatch.site.reading.change_settings` takes it.

    Parameters
    ----------
    keys
        The columns.
    cells
        What stands in them.
    as_text
        Whether text is taken as it stands, though it could be a number or a list.
    """
    return [
        f"{key}={_toml_of(cell, as_text=as_text)}"
        for key, cell in zip(keys, cells, strict=True)
        if is_given(cell)
    ]


def _toml_of(cell: Any, *, as_text: bool) -> str:
    if isinstance(cell, str):
        return json.dumps(cell, ensure_ascii=False) if as_text else cell
    if isinstance(cell, dt.time):
        return cell.isoformat("minutes")
    if isinstance(cell, float) and cell.is_integer():
        # Tables of numbers often have no whole ones.
        return str(int(cell))
    return toml_text(cell)
