"""The help of the program: commands under headings, each with one whole sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from typer.core import TyperCommand, TyperGroup

if TYPE_CHECKING:
    import typer


def put_under(heading: str, section: typer.Typer) -> None:
    """Give every command of a section its heading, and the sentence that the help shows of it.

    The sentence is the first line of what the command says of itself. Made by typer, it would be
    cut short.
    """
    _say_first_sentences(section)
    for command in section.registered_commands:
        command.rich_help_panel = heading
    for group in section.registered_groups:
        group.rich_help_panel = heading


def _say_first_sentences(section: typer.Typer) -> None:
    for command in section.registered_commands:
        command.short_help = (command.callback.__doc__ or "").partition("\n")[0]
    for group in section.registered_groups:
        assert group.typer_instance is not None
        group.short_help = str(group.typer_instance.info.help)
        _say_first_sentences(group.typer_instance)


class SectionedGroup(TyperGroup):
    """A program, or a group of its commands, whose help shows them under their headings.

    typer itself does so with rich only, which takes longer to load than the whole help.
    """

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the commands in their order, all sentences in one column."""
        sections: dict[str | None, list[tuple[str, str]]] = {}
        longest = max(map(len, self.commands))
        for name, command in self.commands.items():
            assert isinstance(command, TyperCommand | TyperGroup)
            row = (name.ljust(longest), command.get_short_help_str())
            sections.setdefault(command.rich_help_panel, []).append(row)
        for heading, rows in sections.items():
            with formatter.section(heading or "Commands"):
                formatter.write_dl(rows)
