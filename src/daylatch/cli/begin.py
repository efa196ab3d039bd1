"""Begin: a site file, and whether it is understood."""

from pathlib import Path
from typing import Annotated

import typer

from daylatch.cli.completion import site_files
from daylatch.cli.options import SiteArgument
from daylatch.commands import DEFAULT_SITE

section = typer.Typer()


@section.command()
def new(
    file: Annotated[
        Path | None,
        typer.Argument(metavar="FILE", help="The site file to write.", show_default=False),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE", help="The same file, given as an option."),
    ] = None,
    like: Annotated[
        Path | None,
        typer.Option(
            "--like",
            metavar="SITE",
            autocompletion=site_files,
            help="A site file to copy, comments and all; the copy gets an id of its own. Only "
            "--name can be given with it.",
        ),
    ] = None,
    name: Annotated[
        str | None, typer.Option(metavar="NAME", help="What you call the house.")
    ] = None,
    latitude: Annotated[
        str | None, typer.Option(metavar="DEGREES", help="North of the equator; south is negative.")
    ] = None,
    longitude: Annotated[
        str | None, typer.Option(metavar="DEGREES", help="East of Greenwich; west is negative.")
    ] = None,
    city: Annotated[
        str | None,
        typer.Option(metavar="CITY", help='Instead of coordinates: "Name" or "Name, country".'),
    ] = None,
    zone: Annotated[
        str | None, typer.Option(metavar="ZONE", help="Such as Europe/Oslo; found if left out.")
    ] = None,
    fallback_open: Annotated[
        str | None,
        typer.Option(
            metavar="HH:MM",
            help="Opening on days that never get dark enough, and the earliest in short nights.",
        ),
    ] = None,
    fallback_close: Annotated[
        str | None,
        typer.Option(
            metavar="HH:MM",
            help="Closing on days that never get dark enough, and the latest in short nights.",
        ),
    ] = None,
    all_: Annotated[
        bool, typer.Option("--all", help="Show every table and key, each with its default.")
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that exists.")] = False,
) -> None:
    """Write a commented site file to start with.

    In a terminal it asks for whatever the options leave open.
    """
    from daylatch.commands.begin import new as command  # noqa: PLC0415

    command.run(
        [path for path in (file, output) if path is not None],
        command.Answers(
            name=name,
            latitude=latitude,
            longitude=longitude,
            city=city,
            zone=zone,
            fallback_open=fallback_open,
            fallback_close=fallback_close,
        ),
        like=like,
        everything=all_,
        force=force,
    )


@section.command()
def check(site: SiteArgument = DEFAULT_SITE) -> None:
    """Say what was understood of a site file, and try a plan."""
    from daylatch.commands.begin import check as command  # noqa: PLC0415

    command.run(site)
