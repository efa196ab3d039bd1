"""Completion, driven as shells drive it."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import sys
import time

import pytest
from typer.main import get_command

from daylatch.cli import app

COMMANDS = {
    **get_command(app).commands,
    **{
        f"diary {name}": command
        for name, command in get_command(app).commands["diary"].commands.items()
    },
}
TAKE_A_SITE = [
    name
    for name, command in COMMANDS.items()
    # A table of sites is none.
    if name != "many"
    and any("SITE" in (one.metavar or "") and one.name != "like" for one in command.params)
]


@pytest.fixture
def folder(tmp_path):
    """Return a folder with site files, among them some in a folder, and other files."""
    for name in ("hens/alder.toml", "hens/birch.toml", "hens/notes.txt", ".hidden/x.toml"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    for name in ("site.toml", "summer.toml", "summer.csv", ".secret.toml"):
        (tmp_path / name).touch()
    return tmp_path


@pytest.fixture
def offered(daylatch, folder, monkeypatch):
    """Return a function that asks, as bash does, how the last of some words may go on."""

    def ask(*words: str) -> list[str]:
        monkeypatch.setenv("_DAYLATCH_COMPLETE", "complete_bash")
        monkeypatch.setenv("COMP_WORDS", "\n".join(("daylatch", *words)))
        monkeypatch.setenv("COMP_CWORD", str(len(words)))
        ran = daylatch()
        assert (ran.status, ran.err) == (0, "")
        return ran.out.split()

    return ask


def test_commands_are_offered_in_the_order_of_the_help(offered):
    assert offered("") == [name for name in COMMANDS if " " not in name]
    assert offered("diary", "") == [name.removeprefix("diary ") for name in COMMANDS if " " in name]
    assert offered("da") == ["daylength"]


def test_options_of_a_command_are_offered(offered):
    assert offered("card", "--pa") == ["--paper"]
    assert offered("--install") == ["--install-completion"]


def test_site_files_and_folders_are_offered(offered):
    assert offered("plan", "") == ["hens/", "site.toml", "summer.toml"]
    assert offered("plan", "su") == ["summer.toml"]
    assert offered("plan", "hens/b") == ["hens/birch.toml"]
    assert offered("plan", "./su") == ["./summer.toml"]


def test_a_whole_path_is_offered_where_one_was_begun(offered, folder):
    assert offered("plan", f"{folder}/su") == [f"{folder}/summer.toml"]


def test_an_only_folder_is_entered(offered, folder):
    assert offered("plan", "he") == ["hens/alder.toml", "hens/birch.toml"]
    (folder / "outer/inner").mkdir(parents=True)
    (folder / "outer/inner/deep.toml").touch()
    assert offered("plan", "ou") == ["outer/inner/deep.toml"]


def test_hidden_files_are_offered_only_where_a_dot_was_typed(offered):
    assert offered("plan", ".") == [".hidden/", ".secret.toml"]


@pytest.mark.parametrize("typed", ["x", "hens/x", "nowhere/", "site.toml/", "hens/n"])
def test_where_there_is_no_site_file_the_shell_is_left_to_itself(offered, typed):
    assert offered("plan", typed) == []


def test_a_folder_that_leads_into_itself_ends(offered, folder):
    (folder / "ring").mkdir()
    (folder / "ring/again").symlink_to(folder / "ring")
    assert offered("plan", "ri") == []


@pytest.mark.parametrize("name", ["my house.toml", "it's.toml", "a$b.toml", "a(1).toml"])
def test_names_that_need_quotes_are_left_to_the_shell(offered, folder, name):
    (folder / name).touch()
    assert offered("plan", "") == []
    assert offered("plan", "su") == ["summer.toml"]


def test_a_name_that_begins_like_an_option_is_offered_as_a_path(offered, folder):
    (folder / "-d.toml").write_text("")
    assert offered("check", "./-") == ["./-d.toml"]
    assert "./-d.toml" in offered("check", "")


def test_letters_of_all_languages_need_no_quotes(offered, folder):
    (folder / "gård.toml").touch()
    assert offered("plan", "g") == ["gård.toml"]


@pytest.mark.parametrize("command", TAKE_A_SITE)
def test_every_command_that_takes_a_site_file_offers_them(offered, command):
    assert offered(*command.split(), "su") == ["summer.toml"]


def test_a_file_to_copy_is_offered(offered):
    assert offered("new", "--like", "su") == ["summer.toml"]


def test_all_commands_but_these_take_a_site_file():
    assert set(COMMANDS) - set(TAKE_A_SITE) == {"new", "reader", "diary", "many"}


@pytest.mark.parametrize("command", ["compare", "draw"])
def test_another_site_file_is_offered_after_the_first(offered, command):
    assert offered(command, "site.toml", "su") == ["summer.toml"]


def test_forms_are_offered_as_the_command_has_them(offered):
    assert offered("plan", "--to", "") == ["text", "csv", "ics", "json", "table"]
    assert offered("nights", "--to", "") == ["text", "csv", "json"]
    assert offered("plan", "site.toml", "--to", "t") == ["text", "table"]


@pytest.mark.parametrize(("typed", "status"), [("su", 0), ("x", 1)])
def test_the_status_tells_fish_whether_there_is_an_offer(
    daylatch, folder, monkeypatch, typed, status
):
    monkeypatch.setenv("_DAYLATCH_COMPLETE", "complete_fish")
    monkeypatch.setenv("_TYPER_COMPLETE_FISH_ACTION", "is-args")
    monkeypatch.setenv("_TYPER_COMPLETE_ARGS", f"daylatch plan {typed}")
    assert daylatch() == (status, "", "")


def test_zsh_gets_whole_sentences(daylatch, monkeypatch):
    monkeypatch.setenv("_DAYLATCH_COMPLETE", "complete_zsh")
    monkeypatch.setenv("_TYPER_COMPLETE_ARGS", "daylatch dr")
    ran = daylatch()
    assert (ran.status, ran.err) == (0, "")
    assert '"draw":"Draw the year, its nights or a comparison, as .svg, .png or .pdf."' in ran.out


@pytest.fixture
def shell(folder):
    """Return the surroundings of a shell whose home has the program, and nothing else."""
    home = folder / ".home"
    home.mkdir()
    program = home / "daylatch"
    program.write_text(f'#!/bin/sh\nexec {sys.executable} -m daylatch "$@"\n')
    program.chmod(0o755)
    path = f"{home}{os.pathsep}{os.environ['PATH']}"
    return {**os.environ, "HOME": str(home), "PATH": path, "TERM": "dumb", "INPUTRC": os.devnull}


def bash(command: str, shell: dict[str, str], folder) -> subprocess.CompletedProcess[str]:
    # With a command after it, bash stays the program's parent.
    return subprocess.run(
        ["bash", "-c", f"{command}; exit $?"],
        env=shell,
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_program_itself_prints_the_offers_and_nothing_else(shell, folder):
    ran = bash(
        "_DAYLATCH_COMPLETE=complete_bash COMP_WORDS='daylatch plan s' COMP_CWORD=2 daylatch",
        shell,
        folder,
    )
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, "site.toml\nsummer.toml\n", "")


def test_bash_completes_after_it_was_installed(shell, folder):
    (folder / "my house.toml").touch()
    shown = bash("daylatch --show-completion", shell, folder)
    assert (shown.returncode, shown.stderr) == (0, "")
    assert "_DAYLATCH_COMPLETE=complete_bash" in shown.stdout
    installed = bash("daylatch --install-completion", shell, folder)
    assert (installed.returncode, installed.stderr) == (0, "")
    assert installed.stdout.startswith("bash completion installed in ")
    keys = {
        "daylatch pl\tsu\t": "<daylatch><plan><summer.toml>",
        # No space comes after a folder, so that one can go on.
        "daylatch plan he\tb\t": "<daylatch><plan><hens/birch.toml>",
        "daylatch plan my\t": "<daylatch><plan><my house.toml>",
        "daylatch plan -o su\tcs\t": "<daylatch><plan><-o><summer.csv>",
        "daylatch plan --to js\t": "<daylatch><plan><--to><json>",
    }
    with Terminal(["bash", "-i"], env=shell, cwd=folder) as terminal:
        terminal.type("echo rea''dy\n", until="ready")
        for typed, words in keys.items():
            # Ctrl-A goes to the begin of the line: the words are shown instead of run.
            terminal.type(f"{typed}\x01printf '<%s>' \n", until=words)


class Terminal:
    """A program at a terminal, and the keys that are pressed there."""

    def __init__(self, command, *, env, cwd):
        self._ours, theirs = pty.openpty()
        self._program = subprocess.Popen(
            command,
            env=env,
            cwd=cwd,
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
        )
        os.close(theirs)

    def __enter__(self):
        return self

    def __exit__(self, *trouble):
        self._program.kill()
        self._program.wait()
        os.close(self._ours)

    def type(self, keys: str, *, until: str) -> None:
        """Press keys, and wait for something to be shown."""
        os.write(self._ours, keys.encode())
        shown, end = "", time.monotonic() + 60
        while until not in shown:
            left = max(0, end - time.monotonic())
            assert select.select([self._ours], [], [], left)[0], f"{keys!r} gave {shown!r}"
            shown += os.read(self._ours, 1024).decode(errors="replace")
