"""The lines of a site file's keys, made from the models: name, default, meaning, what may stand.

Nothing here is written by hand, so that what a new file says of a default is the default.
"""

from __future__ import annotations

import math
import re
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from daylatch.site.messages import toml_text
from daylatch.site.table import lists_in
from daylatch.wording import capital

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic import BaseModel
    from pydantic.fields import FieldInfo

WIDTH = 100
"""How long a line is at most."""
_COLUMN = 30
_MOST_CHOICES = 6
_LONGEST_WHOLE = 22
_UNBROKEN = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class Key:
    """One key of a table.

    Attributes
    ----------
    name : str
        As the file has it.
    default : object
        None if it has none.
    comment : str
        What it means, and what may stand there.
    """

    name: str
    default: object
    comment: str


def keys_of(model: type[BaseModel]) -> Iterator[Key]:
    """Yield the keys of a table, those of a table within it with dotted names.

    A list of tables is none of them. A light comes first, since the other keys of a movement are
    about it.
    """
    schema = model.model_json_schema(by_alias=True)
    definitions = schema.get("$defs", {})
    lists = lists_in(model)
    for name, field in sorted(model.model_fields.items(), key=lambda item: item[0] != "light"):
        key = field.alias or name
        if name in lists:
            continue
        inner = _table_within(field)
        if inner is not None:
            for one in keys_of(inner):
                yield Key(f"{key}.{one.name}", one.default, one.comment)
        else:
            default = None if field.is_required() else field.get_default(call_default_factory=True)
            values = _values(schema["properties"][key], definitions)
            yield Key(key, default, " ".join(filter(None, (field.description, values))))


def _table_within(field: FieldInfo) -> type[BaseModel] | None:
    kinds = (field.annotation, *getattr(field.annotation, "__args__", ()))
    return next((kind for kind in kinds if hasattr(kind, "model_fields")), None)


def _values(shape: dict[str, Any], definitions: dict[str, Any]) -> str:
    """Return a sentence about what may stand there; empty where the meaning says enough."""
    text = " or ".join(_kinds(shape, definitions)).replace(" or from", " or a number from")
    return f"{capital(text)}." if text else ""


def _kinds(shape: dict[str, Any], definitions: dict[str, Any]) -> Iterator[str]:
    if "$ref" in shape:
        shape = definitions[shape["$ref"].rsplit("/", 1)[-1]]
    low = shape.get("minimum", shape.get("exclusiveMinimum"))
    high = shape.get("maximum", shape.get("exclusiveMaximum"))
    if "anyOf" in shape:
        for option in shape["anyOf"]:
            yield from _kinds(option, definitions)
    elif "enum" in shape:
        yield f"one of {_choices(shape['enum'])}"
    elif "enum" in shape.get("items", {}):
        yield f"a list of {_choices(shape['items']['enum'])}"
    elif low is not None and high is not None:
        most = f"{math.floor(high * 100) / 100:.10g}"
        above = "exclusiveMinimum" in shape
        yield f"above 0, to {most}" if above else f"from {low:.4g} to {most}"


def _choices(values: list[object]) -> str:
    texts = list(map(toml_text, values))
    # Nobody needs to be told all the days of the week.
    return ", ".join(texts if len(texts) <= _MOST_CHOICES else [*texts[:2], "...", texts[-1]])


def key_lines(setting: str, comment: str) -> list[str]:
    """Return a setting with its comment beside it, and below where there is no room."""
    if not comment:
        return [setting]
    lines = _wrapped(comment, WIDTH - _COLUMN - 2)
    head = [f"{setting:<{_COLUMN}}# {lines.pop(0)}"] if len(setting) <= _COLUMN - 2 else [setting]
    return [*head, *(f"#{'':{_COLUMN + 1}}{line}" for line in lines)]


def note_lines(text: str) -> list[str]:
    """Return a paragraph as notes."""
    return [f"# {line}" for line in _wrapped(text, WIDTH - 2)]


def _wrapped(text: str, width: int) -> list[str]:
    """Return a text in lines that break neither a word in quotes nor a command."""
    whole = re.sub(r'"[^"]*"|`[^`]+`', _unbroken, text)
    lines = textwrap.wrap(whole, width, break_on_hyphens=False)
    return [line.replace(_UNBROKEN, " ") for line in lines]


def _unbroken(found: re.Match[str]) -> str:
    """Return words in quotes as one; a whole sentence in quotes may be broken."""
    return found[0] if len(found[0]) > _LONGEST_WHOLE else found[0].replace(" ", _UNBROKEN)
