"""The help: every command under one heading, with one whole sentence, within 80 columns."""

from __future__ import annotations

import re

import pytest
from typer.main import get_command

from daylatch.cli import app

COMMANDS = get_command(app).commands
LEAVES = [
    *COMMANDS,
    *(
        f"{name} {inner}"
        for name, command in COMMANDS.items()
        for inner in getattr(command, "commands", ())
    ),
]
HEADINGS = ["Begin", "The plan", "The door", "The birds", "What happened", "People", "At home"]
HEADINGS += ["Many houses"]


def sections(help_text: str) -> dict[str, str]:
    """Return what stands under each heading of a help."""
    blocks = re.findall(r"^(\S[^\n]*):\n((?:  [^\n]*\n)+)", help_text, re.M)
    assert len(blocks) == len({heading for heading, _ in blocks}), "a heading stands twice"
    return dict(blocks)


def rows(block: str) -> list[tuple[str, str]]:
    """Return each command and its sentence, put together again where it goes on below."""
    found = re.findall(r"^  (\S+)  +(\S[^\n]*\n(?:    +[^\n]*\n)*)", block, re.M)
    return [(name, " ".join(words.split())) for name, words in found]


def test_the_sections_come_in_the_order_of_the_work(daylatch):
    ran = daylatch("--help")
    assert (ran.status, ran.err) == (0, "")
    assert list(sections(ran.out)) == ["Options", *HEADINGS]


def test_every_command_stands_under_exactly_one_heading(daylatch):
    under = sections(daylatch("--help").out)
    shown = [name for heading in HEADINGS for name, _ in rows(under[heading])]
    assert len(shown) == len(set(shown))
    assert set(shown) == set(COMMANDS)
    assert all(rows(under[heading]) for heading in HEADINGS)


@pytest.mark.parametrize("columns", ["80", "81", "100", "400", "60"])
def test_every_command_has_one_whole_sentence(daylatch, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    under = sections(daylatch("--help").out)
    shown = dict(row for heading in HEADINGS for row in rows(under[heading]))
    for name, command in COMMANDS.items():
        assert shown[name] == command.help.splitlines()[0]
        assert re.fullmatch(r"[A-Z].*[^.]\.", shown[name]), shown[name]
        assert "…" not in shown[name]


def test_every_sentence_fits_on_a_line_and_begins_in_the_same_column(daylatch):
    under = sections(daylatch("--help").out)
    lines = [line for heading in HEADINGS for line in under[heading].splitlines()]
    assert len(lines) == len(COMMANDS)
    assert len({re.match(r"  \S+ +", line).end() for line in lines}) == 1


def test_so_do_the_commands_of_a_group(daylatch):
    under = sections(daylatch("diary", "--help").out)
    inner = COMMANDS["diary"].commands
    shown = dict(rows(under["Commands"]))
    assert shown == {name: command.help.splitlines()[0] for name, command in inner.items()}


@pytest.mark.parametrize("columns", ["80", "400"])
@pytest.mark.parametrize("command", [(), *map(str.split, LEAVES)], ids=" ".join)
def test_no_help_is_wider_than_80_columns(daylatch, monkeypatch, columns, command):
    monkeypatch.setenv("COLUMNS", columns)
    ran = daylatch(*command, "--help")
    assert ran.out.startswith("Usage: daylatch")
    assert max(map(len, ran.out.splitlines())) <= 80


def test_the_help_comes_without_asking_too(daylatch):
    ran = daylatch()
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == daylatch("--help").out
