"""What several commands take: their arguments and options."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from daylatch.cli.completion import site_files
from daylatch.commands.forms import FORMS

if TYPE_CHECKING:
    from collections.abc import Callable

SiteArgument = Annotated[
    Path,
    typer.Argument(
        metavar="SITE",
        help="The site file; site.toml of this folder if left out.",
        show_default=False,
        autocompletion=site_files,
    ),
]
YearOption = Annotated[
    str | None,
    typer.Option("--year", metavar="YEAR", help="Such as 2027: all of that calendar year."),
]
FirstOption = Annotated[
    str | None, typer.Option("--from", metavar="DATE", help="First date, such as 2027-03-01.")
]
LastOption = Annotated[
    str | None, typer.Option("--until", metavar="DATE", help="Last date, included.")
]
OutputOption = Annotated[
    Path | None,
    typer.Option("--output", "-o", metavar="FILE", help="The file to write; printed if left out."),
]
FileOption = Annotated[
    Path | None, typer.Option("--output", "-o", metavar="FILE", help="The file to write.")
]
ForceOption = Annotated[
    bool, typer.Option("--force", help="Replace a file that daylatch did not write.")
]
UpdateOption = Annotated[
    bool,
    typer.Option(
        "--update",
        help="For a calendar file that is there already: what is no longer planned stays in it, "
        "marked as cancelled.",
    ),
]
WithOption = Annotated[
    list[str] | None,
    typer.Option(
        "--with",
        metavar="KEY=VALUE",
        help='A setting to change, such as close.offset_min=35 or open.not_before="07:00"; as '
        "many as you like.",
    ),
]
OtherArgument = Annotated[
    Path | None,
    typer.Argument(
        metavar="OTHER",
        help="Another site file to compare with.",
        autocompletion=site_files,
    ),
]


def one_of(*words: str) -> Callable[[], list[str]]:
    """Return what offers these words to a shell."""
    return lambda: list(words)


def to_option(command: str) -> Any:
    """Return the option ``--to`` of a command that prints one of its forms."""
    names = [form.name for form in FORMS[command]]
    return typer.Option(
        "--to",
        metavar="FORM",
        help=f"What to write: {', '.join(names[:-1])} or {names[-1]}; if left out, what the name "
        f"of the file ends in, else {names[0]}.",
        autocompletion=one_of(*names),
    )
