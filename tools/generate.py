"""Make what is made from the program itself: reference pages, the schema, demo plans, the picture.

``python tools/generate.py`` writes them; with ``--check`` it only compares and fails if one is out
of date. Nothing in them depends on the day on which they are made.
"""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import io
import json
import math
import os
import sys
import tempfile
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from norms_page import norms_page
from rich.console import Console
from rich.terminal_theme import TerminalTheme
from rich.text import Text
from typer.main import get_command

from daylatch.__main__ import run
from daylatch.cli import app
from daylatch.commands.forms import FORMS, form_named
from daylatch.paper.pages.card_layout import lay_out
from daylatch.paper.pages.papers import PAPERS
from daylatch.paper.pages.ruler import Ruler, new_document
from daylatch.paper.pictures import svg
from daylatch.paper.pictures.year import draw_year
from daylatch.paper.sitter import make_sheet
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import load_site
from daylatch.site.table import lists_in
from daylatch.site.tables import SETTING_TABLES, TABLES, Head, SiteFile, Span, table_model

if TYPE_CHECKING:
    from pydantic import BaseModel

ROOT = Path(__file__).resolve().parent.parent
STAMP = "1798761600"  # 2027-01-01T00:00:00Z, so that calendar files do not change from day to day
DEMO_YEAR = "2027"
PICTURED = "alder-row"
# A calendar and a JSON file are large; one demo of each style shows them.
DEMO_EXPORTS = {
    "alder-row": ("text", "csv", "ics", "json"),
    "fjord-end": ("text", "csv"),
    "gum-flat": ("text", "csv"),
    "lagoon-hut": ("text", "csv", "ics"),
    "maple-hollow": ("text", "csv"),
    "sallow-end": ("text", "csv"),
}
PICTURE_COMMAND = (
    "plan",
    "schedules/alder-row.toml",
    "--from",
    "2027-01-01",
    "--until",
    "2027-04-30",
)
# What works the doors of the demo sites: a table in use, a timer's list, a card.
DEMO_TABLE = "schedules/fjord-end-2027.bin"
DEMO_FILES = {
    DEMO_TABLE: ("plan", "schedules/fjord-end.toml", "--to", "table", "--year", DEMO_YEAR),
    "schedules/lagoon-hut-list-2027.txt": (
        *("settings", "schedules/lagoon-hut.toml", "--year", DEMO_YEAR),
    ),
    "schedules/alder-row-audit-2026.txt": (
        *("audit", "schedules/alder-row.toml", "schedules/alder-row-log-2026.csv"),
    ),
    "schedules/alder-row-roosting-2026.txt": (
        *("roosting", "schedules/alder-row.toml", "schedules/alder-row-evenings-2026.csv"),
    ),
    "schedules/fjord-end-sunlight-2027.txt": (
        *("sunlight", "schedules/fjord-end.toml", "--year", DEMO_YEAR),
    ),
    "docs/images/sunlight.svg": (*("sunlight", "schedules/fjord-end.toml", "--year", DEMO_YEAR),),
    "docs/images/roosting.svg": (
        *("roosting", "schedules/alder-row.toml", "schedules/alder-row-evenings-2026.csv"),
    ),
    **dict.fromkeys(
        [
            "schedules/sallow-end-power-2027.txt",
            "schedules/sallow-end-power-2027.csv",
            "schedules/sallow-end-power-2027.json",
            "docs/images/power.svg",
        ],
        ("power", "schedules/sallow-end.toml", "--from", "2027-07-01"),
    ),
    "schedules/gum-flat-card-2027.html": (
        *("card", "schedules/gum-flat.toml", "--year", DEMO_YEAR),
    ),
    "schedules/maple-hollow-sitter-2027.html": (
        *("away", "schedules/maple-hollow.toml", "--from", "2027-03-10", "--until", "2027-03-23"),
    ),
    "schedules/maple-hollow-sitter-2027.pdf": (
        *("away", "schedules/maple-hollow.toml", "--from", "2027-03-10", "--until", "2027-03-23"),
    ),
}
MADE = "This page is made by `make docs`; do not edit it."


def printed(*arguments: str) -> str:
    """Return what a command prints to standard output."""
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True)
    with contextlib.redirect_stdout(out):
        status = run(list(arguments))
    if status != 0:
        raise SystemExit(f"daylatch {' '.join(arguments)} ended with status {status}")
    content = out.buffer
    assert isinstance(content, io.BytesIO)
    return content.getvalue().decode()


def written(path: str, *arguments: str) -> bytes:
    """Return what a command writes into a file of some name."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / Path(path).name
        with contextlib.redirect_stderr(io.StringIO()):
            printed(*arguments, "-o", str(file))
        return file.read_bytes()


def commands_page() -> str:
    """Return the reference of the command line."""
    parts = [
        "# Commands",
        "",
        MADE,
        "",
        "Exit statuses: [exit-statuses.md](exit-statuses.md).",
    ]
    parts += ["", "## daylatch", "", *_help()]
    heading = None
    for name, command in get_command(app).commands.items():
        if command.rich_help_panel != heading:
            heading = command.rich_help_panel
            parts += ["", f"## {heading}"]
        parts += ["", f"### daylatch {name}", "", *_help(name)]
        for inner in getattr(command, "commands", ()):
            parts += ["", f"#### daylatch {name} {inner}", "", *_help(name, inner)]
    return "\n".join(parts) + "\n"


def _help(*command: str) -> list[str]:
    lines = [line.rstrip() for line in printed(*command, "--help").splitlines()]
    return ["```text", *lines, "```"]


def forms_page() -> str:
    """Return the reference of forms: what each command can write."""
    parts = [
        "# Forms",
        "",
        MADE,
        "",
        "What each command can write. Commands that print take the name of a form as `--to`; "
        "without it, what the name of the file ends in says which; an ending that is not theirs is "
        "refused, and a name without one is the first of theirs. `card`, `away`, `draw` and "
        "`report` write files only, and go by the ending.",
        "",
        "| command | form | a file's name ends in | the file carries the house's id |",
        "|---|---|---|---|",
    ]
    for command, forms in FORMS.items():
        for form in forms:
            named = ", ".join(f"`{ending}`" for ending in form.endings) or "anything; say `--to`"
            has_id = "yes" if form.has_id else "no"
            parts.append(f"| `{command}` | `{form.name}` | {named} | {has_id} |")
    return "\n".join(parts) + "\n"


def site_file_page() -> str:
    """Return the reference of the site file."""
    parts = [
        "# The site file",
        "",
        MADE,
        "",
        "A TOML file, one for each house. `daylatch new` writes one to begin with, and editors "
        "that know JSON Schema can check it against [site.schema.json](site.schema.json). What "
        "the settings do: [rules.md](rules.md).",
        "",
        "Wall-clock times are 24-hour times in quotes. Dates are written without quotes.",
        "",
        "## Above the first table",
        "",
        *_keys(Head),
    ]
    for name in _tables():
        model = table_model(name)
        lists = lists_in(model)
        parts += ["", f"## [{name}]", "", *_keys(model, leave_out=(*lists,))]
        for key, entry in lists.items():
            parts += ["", f"## [[{name}.{key}]]", "", entry.ABOUT, "", *_keys(entry)]
    changes = ", ".join(f"`{table}`" for table in SETTING_TABLES)
    parts += [
        "",
        "## [[span]]",
        "",
        "As many as there are. Every key of the tables "
        f"{changes} may stand in a span too, dotted (`close.offset_min = 30`) or as a table "
        "(`[span.close]`); only what a span gives is changed. `open.fixed` and `close.fixed` "
        "replace the light and the limits of a movement.",
        "",
        *_keys(Span, leave_out=SETTING_TABLES),
    ]
    return "\n".join(parts) + "\n"


def _tables() -> list[str]:
    """Return the file's tables in the order of the reference."""
    return [field.name for field in dataclasses.fields(SiteFile) if field.name in TABLES]


def _keys(model: type[BaseModel], leave_out: tuple[str, ...] = ()) -> list[str]:
    schema = model.model_json_schema(by_alias=True)
    definitions = schema.get("$defs", {})
    rows = ["| key | values | default | meaning |", "|---|---|---|---|"]
    for name, field in model.model_fields.items():
        if name in leave_out:
            continue
        key = field.alias or name
        shape = schema["properties"][key]
        if field.is_required():
            default = "required"
        else:
            value = field.get_default(call_default_factory=True)
            default = "none" if value is None else f"`{json.dumps(getattr(value, 'value', value))}`"
        rows.append(
            f"| `{key}` | {_values(shape, definitions)} | {default} | {field.description} |"
        )
    return rows


def _values(shape: dict[str, Any], definitions: dict[str, Any]) -> str:
    if "$ref" in shape:
        shape = definitions[shape["$ref"].rsplit("/", 1)[-1]]
    if "anyOf" in shape:
        return " or ".join(
            _values(option, definitions)
            for option in shape["anyOf"]
            if option.get("type") != "null"
        )
    if "enum" in shape:
        return ", ".join(f"`{json.dumps(value)}`" for value in shape["enum"])
    if "const" in shape:
        return f"`{json.dumps(shape['const'])}`"
    if "pattern" in shape:
        return "`HH:MM`"
    if shape.get("type") == "array":
        return f"list of {_values(shape['items'], definitions)}"
    words = {"boolean": "true or false", "integer": "whole number", "object": "table"}
    words["string"] = "text"
    text = words.get(shape.get("type", ""), shape.get("type", "text"))
    if shape.get("format") == "date":
        text = "date"
    low = shape.get("minimum", shape.get("exclusiveMinimum"))
    high = shape.get("maximum", shape.get("exclusiveMaximum"))
    if low is not None and high is not None:
        above = "above " if "exclusiveMinimum" in shape else ""
        text += f", {above}{low:.4g} to {math.floor(high * 100) / 100:.10g}"
    return text


def site_schema() -> dict[str, Any]:
    """Return the JSON Schema of the site file."""
    head = Head.model_json_schema(by_alias=True)
    properties: dict[str, Any] = dict(head["properties"])
    definitions: dict[str, Any] = {}

    def take(model: type[BaseModel]) -> dict[str, Any]:
        schema = model.model_json_schema(by_alias=True, ref_template="#/$defs/{model}")
        definitions.update(schema.pop("$defs", {}))
        return schema

    for name in _tables():
        properties[name] = take(table_model(name))
    properties["span"] = {
        "type": "array",
        "items": take(Span),
        "description": "Dates on which other settings hold.",
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "daylatch site file",
        "type": "object",
        "additionalProperties": False,
        "required": [*head["required"], "place"],
        "properties": properties,
        "$defs": dict(sorted(definitions.items())),
    }


def picture() -> str:
    """Return the README's picture: real output of a real command, as SVG."""
    console = Console(record=True, width=82, file=io.StringIO(), force_terminal=True)
    console.print(Text("$ daylatch " + " ".join(PICTURE_COMMAND), style="bold green"))
    console.print(Text(printed(*PICTURE_COMMAND).rstrip()))
    theme = TerminalTheme(
        (252, 250, 244),
        (40, 44, 40),
        [(40, 44, 40), (160, 40, 40), (30, 100, 60)] + [(0, 0, 0)] * 5,
    )
    svg = console.export_svg(title="daylatch", theme=theme, code_format=_SVG, unique_id="plan")
    return "\n".join(line.rstrip() for line in svg.splitlines()) + "\n"


def year_picture() -> bytes:
    """Return the picture of a demo site's year."""
    year = int(DEMO_YEAR)
    plan = make_plan(
        load_site(f"schedules/{PICTURED}.toml"), dt.date(year, 1, 1), dt.date(year, 12, 31)
    )
    return svg.render(draw_year(exactly(plan)))


def sheet_picture() -> str:
    """Return the picture of a sitter's sheet, piece by piece where they stand on its page."""
    site = load_site("schedules/maple-hollow.toml")
    (span,) = site.settings.spans
    paper = PAPERS[site.settings.writing.paper]
    card = make_sheet(exactly(make_plan(site, span.first, span.last)), span.sitter)
    parts = []
    with new_document(paper) as document:
        sheet, ruler = lay_out(card, paper, document), Ruler(document)
        for text in filter(lambda one: one.text.strip(), sheet.texts):
            weight = ' font-weight="bold"' if text.bold else ""
            # Whatever font is there takes the room that was measured.
            length = ruler.width(text.text, text.size, text.bold)
            parts.append(
                f'<text x="{text.x:.1f}" y="{text.y:.1f}" font-size="{text.size:.2f}"{weight} '
                f'textLength="{length:.1f}" lengthAdjust="spacingAndGlyphs">{escape(text.text)}'
                "</text>"
            )
        parts += [
            f'<line x1="{one.x1:.1f}" y1="{one.y1:.1f}" x2="{one.x2:.1f}" y2="{one.y2:.1f}" '
            f'stroke="#000" stroke-width="{one.width:.2f}"/>'
            for one in sheet.strokes
        ]
    lines = "\n".join(parts)
    return (
        f'<svg viewBox="0 0 {paper.width:g} {paper.height:g}" xmlns="http://www.w3.org/2000/svg" '
        f'role="img" aria-label="A sitter\'s sheet: {escape(card.name)}, {escape(card.dates)}">\n'
        f'<rect width="{paper.width:g}" height="{paper.height:g}" fill="#fff"/>\n'
        '<g font-family="DejaVu Sans, Verdana, sans-serif" stroke="none" fill="#000">\n'
        f"{lines}\n</g>\n</svg>\n"
    )


# As rich's own frame, without its web font: a picture must not fetch anything.
_SVG = """\
<svg viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg"
 role="img" aria-label="The first months of a door plan, as printed in a terminal">
<style>
.{unique_id}-matrix {{ font-family: ui-monospace, "DejaVu Sans Mono", Menlo, Consolas, monospace;
 font-size: {char_height}px; line-height: {line_height}px; font-variant-east-asian: full-width; }}
{styles}
</style>
<defs>
<clipPath id="{unique_id}-clip-terminal">
<rect x="0" y="0" width="{terminal_width}" height="{terminal_height}"/>
</clipPath>
{lines}
</defs>
<rect width="{width}" height="{height}" rx="8" fill="#fcfaf4" stroke="#c9c3b2"/>
<g transform="translate(9, 9)" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""


def everything() -> dict[str, bytes]:
    """Return every generated file by its path from the project's root."""
    files = {path: written(path, *command) for path, command in DEMO_FILES.items()}
    if "--check" not in sys.argv:
        # The plan of that site is read from it.
        Path(DEMO_TABLE).write_bytes(files[DEMO_TABLE])
    made = {
        "docs/reference/commands.md": commands_page(),
        "docs/reference/forms.md": forms_page(),
        "docs/reference/site-file.md": site_file_page(),
        "docs/reference/norms.md": norms_page(),
        "docs/reference/site.schema.json": json.dumps(site_schema(), indent=2) + "\n",
        "docs/images/plan.svg": picture(),
        "docs/images/sitter.svg": sheet_picture(),
    }
    for site, exports in DEMO_EXPORTS.items():
        for export in exports:
            made[f"schedules/{site}-{DEMO_YEAR}{form_named('plan', export).endings[0]}"] = printed(
                "plan", f"schedules/{site}.toml", "--year", DEMO_YEAR, "--to", export
            )
    pages = {path: text.encode() for path, text in made.items()}
    return {**files, **pages, "docs/images/year.svg": year_picture()}


def main() -> int:
    """Write the files, or compare them."""
    os.chdir(ROOT)
    os.environ.update(SOURCE_DATE_EPOCH=STAMP, COLUMNS="80")
    stale = []
    for path, content in everything().items():
        file = Path(path)
        if not file.exists() or file.read_bytes() != content:
            stale.append(path)
            if "--check" not in sys.argv:
                file.write_bytes(content)
    if "--check" in sys.argv and stale:
        print(f"out of date, run `make docs`: {', '.join(stale)}", file=sys.stderr)
        return 1
    print("generated files: " + (f"wrote {', '.join(stale)}" if stale else "current"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
