"""The birds: what the plan means for them."""

from typing import Annotated

import typer

from daylatch.cli.options import (
    FirstOption,
    ForceOption,
    LastOption,
    OtherArgument,
    OutputOption,
    SiteArgument,
    UpdateOption,
    WithOption,
    YearOption,
    to_option,
)
from daylatch.commands import DEFAULT_SITE
from daylatch.commands.asked import Asked
from daylatch.commands.dates import Range

section = typer.Typer()


@section.command()
def nights(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    longer_than: Annotated[
        float | None,
        typer.Option(
            metavar="HOURS",
            help="Longer lock-ins (from closing to the next opening) count as long; if left out, "
            "norms.long_night_h of the site file, else 14.",
        ),
    ] = None,
    daily: Annotated[
        bool,
        typer.Option("--daily", help="List every night too; CSV and JSON always hold them."),
    ] = False,
    to: Annotated[str | None, to_option("nights")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Say how long the birds are shut in, and how long awake.

    All nights together and month by month; with --daily each night, too.
    """
    from daylatch.commands.birds import nights as command  # noqa: PLC0415

    command.run(
        Asked(site, Range(year, first, last), to, output, force),
        longer_than_h=longer_than,
        daily=daily,
    )


@section.command()
def fit(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    to: Annotated[str | None, to_option("fit")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Say whether the house fits the flock.

    Room, roosts, nests, litter, feed and water, each beside what a norm asks for.
    """
    from daylatch.commands.birds import fit as command  # noqa: PLC0415

    command.run(Asked(site, Range(year, first, last), to, output, force))


@section.command()
def compare(
    site: SiteArgument = DEFAULT_SITE,
    other: OtherArgument = None,
    changes: WithOption = None,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    to: Annotated[str | None, to_option("compare")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Say what other settings would cost or gain.

    Give them with --with, or as another file.
    """
    from daylatch.commands.birds import compare as command  # noqa: PLC0415

    command.run(
        Asked(site, Range(year, first, last), to, output, force),
        other=other,
        changes=changes or [],
    )


@section.command()
def daylength(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    to: Annotated[str | None, to_option("daylength")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
    update: UpdateOption = False,
) -> None:
    """Say how long the day is for laying, and when to light a lamp.

    The lamp keeps the length of day that you want.
    """
    from daylatch.commands.birds import daylength as command  # noqa: PLC0415

    command.run(Asked(site, Range(year, first, last), to, output, force, update))


@section.command()
def sunlight(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    to: Annotated[str | None, to_option("sunlight")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Say when direct sun reaches the run.

    Over hills, trees and houses: the skyline that the site file gives under [skyline].
    """
    from daylatch.commands.birds import sunlight as command  # noqa: PLC0415

    command.run(Asked(site, Range(year, first, last), to, output, force))
