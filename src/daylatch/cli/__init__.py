"""The command line: what each command takes. What it does is in `daylatch.commands`.

Each section of the help is a module here, under the same word. Nothing heavy is imported, so that
``--help`` answers at once.
"""

from __future__ import annotations

from typing import Annotated

import typer

import daylatch
from daylatch.cli import begin, birds, door, happened, home, many, people, plan
from daylatch.cli.sections import SectionedGroup, put_under

SECTIONS = {
    "Begin": begin.section,
    "The plan": plan.section,
    "The door": door.section,
    "The birds": birds.section,
    "What happened": happened.section,
    "People": people.section,
    "At home": home.section,
    "Many houses": many.section,
}
"""The headings of the help, in order, and the commands under each."""

app = typer.Typer(
    name="daylatch",
    help="Open and close times for a hen house's pop door, for any place and any day of the year.",
    epilog="A schedule does not see the birds: count heads at dusk.",
    cls=SectionedGroup,
    # An option that was not given is nothing to typer, and it takes pydantic to find that so; "no"
    # it takes as it is. A command's own help must not pay for these.
    context_settings={
        "default_map": {
            "help": False,
            "install_completion": False,
            "show_completion": False,
            "diary": {"help": False},
        }
    },
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for heading, section in SECTIONS.items():
    put_under(heading, section)
    app.add_typer(section)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"daylatch {daylatch.__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_version, is_eager=True, help="Show the version and exit."
        ),
    ] = False,
) -> None:
    pass
