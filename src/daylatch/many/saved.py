"""What a house was planned by, as text in a dataset, and the site made of it again."""

from __future__ import annotations

import datetime as dt
import json
from enum import Enum
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from daylatch.clock import WallTime
from daylatch.site.reading.site_file import read_data
from daylatch.site.table import NO_LIMIT

if TYPE_CHECKING:
    from daylatch.site.tables import Site, SiteFile

_OF_THE_ROW = {"head", "place"}
# What concerns one computer or one calendar, and may say more than a dataset should that is handed
# on; no plan and no card needs it.
_LEFT_OUT = _OF_THE_ROW | {"feed", "sync", "diary", "watch", "home", "mqtt"}
_LEFT_OUT |= {"panel", "battery", "load"}


def settings_text(settings: SiteFile) -> str:
    """Return what a site's file says besides who and where it is, as JSON."""
    said: dict[str, Any] = {}
    for name, table in vars(settings).items():
        if name == "spans" and table:
            said["span"] = [_plain(span) for span in table]
        elif isinstance(table, BaseModel) and name not in _LEFT_OUT and table.model_fields_set:
            said[name] = _plain(table)
    if settings.head.notes:
        said["notes"] = settings.head.notes
    return json.dumps(said, ensure_ascii=False)


def saved_site(row: dict[str, Any]) -> Site:
    """Return the site of a row of houses of a dataset.

    Parameters
    ----------
    row
        Its cells by their columns.

    Raises
    ------
    SiteError
        If a newer program no longer takes what an older one wrote.
    """
    data = json.loads(row["settings"])
    data |= {
        "id": row["house_id"],
        "name": row["name"],
        "place": {key: row[key] for key in ("latitude", "longitude", "zone")},
    }
    return read_data(data, str(row["site"]))


def _plain(value: Any) -> Any:
    """Return a value as it stands in a file; of a table, what is given."""
    match value:
        case None:
            # Only a limit can be given as none.
            return NO_LIMIT
        case BaseModel():
            fields = type(value).model_fields
            return {
                fields[key].alias or key: _plain(getattr(value, key))
                for key in fields
                if key in value.model_fields_set
            }
        case WallTime() | dt.date():
            return str(value)
        case Enum():
            return value.value
        case list() | tuple():
            return [_plain(one) for one in value]
        case dict():
            return {key: _plain(one) for key, one in value.items()}
    return value
