"""The columns of a table of sites that are keys of the site file, and what their cells set."""

from __future__ import annotations

import datetime as dt
import difflib
import json
import math
import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from daylatch.errors import UsageError
from daylatch.many.rows import PLACE
from daylatch.site.messages import LISTS_OF_TABLES, toml_text
from daylatch.site.tables import TABLES, Head, table_model
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

# What a row's own columns say, or what is made of its id.
_OF_THE_ROW = "place"
_OF_ONE_HOUSE = "door.in_use"
_WHOLE = re.compile(r"\s*[+-]?\d+\.0+\s*", re.ASCII)
_ALIKE = 0.75
"""From which likeness on a key may have been meant, of 1."""
_OF_THE_HEAD = [name for name in Head.model_fields if name != "id"]


def key_columns(file: str, names: Iterable[str], ignored: Collection[str] = ()) -> tuple[str, ...]:
    """Return the columns that are keys, in the order of the table.

    Parameters
    ----------
    file
        The table's name, for messages.
    names
        All of its columns.
    ignored
        Those that somebody said are none.

    Raises
    ------
    UsageError
        Naming every column that is neither a key nor one of `PLACE`.
    """
    names = tuple(names)
    absent = [name for name in ignored if name not in names]
    if absent:
        raise UsageError(f"--ignore is {absent[0]}: {file} has no such column")
    keys = tuple(name for name in names if name not in PLACE and name not in ignored)
    wrong = [f"{file}: column {name} {words}" for name in keys if (words := _wrong(name))]
    if wrong:
        raise UsageError(
            *wrong, "columns of your own may stay in the table: name each with --ignore COLUMN"
        )
    return keys


def _wrong(name: str) -> str:
    """Return what is wrong with a column's name; nothing if it is a key."""
    table, _, key = name.partition(".")
    if name == _OF_ONE_HOUSE:
        return "is no column here: a file is in the door of one house"
    if table == _OF_THE_ROW:
        return "is no column here: the place is in latitude, longitude and zone"
    if (table,) in LISTS_OF_TABLES and key:
        return f"is no column here: put [[{table}]] into the file given as --like"
    known = [*PLACE, *_OF_THE_HEAD, *_dotted_keys()]
    if name in known:
        return ""
    meant = [one for one in known if key == "" and one.partition(".")[2] == name]
    meant = meant or difflib.get_close_matches(name.lower(), known, n=1, cutoff=_ALIKE)
    if meant:
        return f"is not a key here; did you mean {listed(meant, 'or')}?"
    return (
        f"is not a key here; there are {listed([*PLACE, *_OF_THE_HEAD])}, and the keys of the "
        "site file with their table, such as close.offset_min"
    )


@lru_cache(maxsize=1)
def _dotted_keys() -> list[str]:
    return [
        f"{table}.{field.alias or name}"
        for table in TABLES
        if table != _OF_THE_ROW
        for name, field in table_model(table).model_fields.items()
    ]


def is_given(cell: Any) -> bool:
    """Return whether a cell says anything."""
    if isinstance(cell, float) and math.isnan(cell):
        return False
    return cell is not None and not (isinstance(cell, str) and not cell.strip())


def settings_of(keys: Sequence[str], cells: Sequence[Any]) -> list[str]:
    """Return what the cells of a row set, as `site.reading.site_file.change_settings` takes it.

    Parameters
    ----------
    keys
        The columns.
    cells
        What stands in them.
    """
    return [
        f"{key}={_as_text(cell) if is_text(key) else _as_value(cell)}"
        for key, cell in zip(keys, cells, strict=True)
        if is_given(cell)
    ]


@lru_cache(maxsize=1024)
def is_text(key: str) -> bool:
    """Return whether a key takes nothing but text, so that a cell is taken as it stands."""
    table, _, name = key.rpartition(".")
    schema = (table_model(table) if table else Head).model_json_schema(by_alias=True)
    shape = schema["properties"][name]
    options = shape.get("anyOf", [shape])
    return all(
        option.get("type") in {"string", "null"}
        or isinstance(option.get("const"), str)
        or "$ref" in option
        for option in options
    )


def _as_text(cell: Any) -> str:
    """Return a cell as text of TOML."""
    match cell:
        case str():
            text = cell
        case bool():
            text = "true" if cell else "false"
        case dt.time():
            whole = not (cell.second or cell.microsecond)
            text = cell.isoformat("minutes" if whole else "auto")
        case float() if cell.is_integer():
            text = str(int(cell))
        case _:
            text = str(cell)
    return json.dumps(text, ensure_ascii=False)


def _as_value(cell: Any) -> str:
    """Return a cell as TOML has it; text is taken for what it may be."""
    if isinstance(cell, str):
        # Tables of numbers often have no whole ones.
        return cell.partition(".")[0] if _WHOLE.fullmatch(cell) else cell
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return toml_text(cell)
