"""Which settings a keeper really chose: a default that is written down says nothing new."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pydantic import BaseModel


def chosen(table: BaseModel | None, *keys: str) -> list[str]:
    """Return those of a table's keys to which the file gives another value than the default.

    Without any keys, all of the table are looked at; a table that is left out has none.
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
