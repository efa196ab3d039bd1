"""At home: reports of the door, and alarms."""

from pathlib import Path
from typing import Annotated

import typer

from daylatch.cli.completion import site_files
from daylatch.commands import DEFAULT_SITE

section = typer.Typer()

SitesArgument = Annotated[
    list[Path] | None,
    typer.Argument(
        metavar="SITE",
        help="The site files; site.toml of this folder if left out.",
        show_default=False,
        autocompletion=site_files,
    ),
]


@section.command()
def home(
    sites: SitesArgument = None,
    print_unit: Annotated[
        bool,
        typer.Option("--print-unit", help="Print a systemd unit that runs this, and end."),
    ] = False,
    new_token: Annotated[
        bool,
        typer.Option(
            "--new-token", help="Write a new token of the door into the file of secrets, and end."
        ),
    ] = False,
    invite: Annotated[
        str | None,
        typer.Option(
            "--invite",
            metavar="NAME",
            help="Print a link by which somebody can see the house, and end; it works once.",
            show_default=False,
        ),
    ] = None,
    only_reads: Annotated[
        bool, typer.Option("--only-reads", help="With --invite: they can note nothing.")
    ] = False,
    guests: Annotated[
        bool, typer.Option("--guests", help="List those who were invited, and end.")
    ] = False,
    revoke: Annotated[
        str | None,
        typer.Option(
            "--revoke",
            metavar="NAME",
            help="With --guests: take an invitation back.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Take the door's reports, and raise the alarm if it did not shut.

    It runs until it is stopped. Several houses can be looked after at once.
    """
    from daylatch.commands.home import home as command  # noqa: PLC0415

    command.run(
        sites or [DEFAULT_SITE],
        print_unit=print_unit,
        new_token=new_token,
        invite=invite,
        only_reads=only_reads,
        list_guests=guests,
        revoke=revoke,
    )


@section.command()
def watch(
    sites: SitesArgument = None,
    once: Annotated[
        bool,
        typer.Option("--once", help="Look once and tell whom it concerns, as from a timer."),
    ] = False,
    test: Annotated[
        bool, typer.Option("--test", help="Send a test to everybody who would be told.")
    ] = False,
) -> None:
    """Say what is wrong now; with --once, tell those who must know.

    What is wrong is judged by the diary and by what is due.
    """
    from daylatch.commands.home import watch as command  # noqa: PLC0415

    status = command.run(sites or [DEFAULT_SITE], once=once, test=test)
    if status:
        raise typer.Exit(status)
