"""The plan: when the door moves, why, and what it should be now."""

from typing import Annotated

import typer

from daylatch.cli.completion import site_files
from daylatch.cli.options import (
    FirstOption,
    ForceOption,
    LastOption,
    OutputOption,
    SiteArgument,
    UpdateOption,
    YearOption,
    one_of,
    to_option,
)
from daylatch.commands import DEFAULT_SITE
from daylatch.commands.asked import Asked
from daylatch.commands.dates import Range
from daylatch.commands.door.table import TableOptions

section = typer.Typer()


@section.command()
def plan(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    to: Annotated[str | None, to_option("plan")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
    update: UpdateOption = False,
    as_: Annotated[
        str | None,
        typer.Option(
            "--as",
            metavar="FORM",
            help="How to write a table: bin (if left out), c or hex.",
            autocompletion=one_of("bin", "c", "hex"),
        ),
    ] = None,
    within: Annotated[
        str | None,
        typer.Option(
            metavar="MIN",
            help="How late a table may move the door, never early; the table gets smaller.",
        ),
    ] = None,
    address: Annotated[
        str | None,
        typer.Option(metavar="HEX", help="Where --as hex puts the table, such as 0x1F00."),
    ] = None,
    every_year: Annotated[
        bool,
        typer.Option("--every-year", help="One table for all years asked for, by month and day."),
    ] = False,
    clock_margin: Annotated[
        str | None,
        typer.Option(
            metavar="MIN",
            help="How wrong the controller's clock may be, fast or slow, with the door still "
            "within --within, which must be at least twice as much.",
        ),
    ] = None,
    memory: Annotated[
        str | None,
        typer.Option(
            metavar="BYTES",
            help="How many bytes the device has, from address 0; a table that does not fit is "
            "refused.",
        ),
    ] = None,
) -> None:
    """Plan when the door opens and closes.

    Without dates, the next 365 days from today at the site.
    """
    from daylatch.commands.plan import plan as command  # noqa: PLC0415

    command.run(
        Asked(site, Range(year, first, last), to, output, force, update),
        table=TableOptions(as_, within, address, every_year, clock_margin, memory),
    )


@section.command()
def explain(
    arguments: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[SITE] DATE",
            help="The site file, and a date.",
            autocompletion=site_files,
            show_default=False,
        ),
    ] = None,
) -> None:
    """Say in sentences how one day's times came about."""
    from daylatch.commands.plan import explain as command  # noqa: PLC0415

    command.run(arguments or [])


@section.command()
def today(
    site: SiteArgument = DEFAULT_SITE,
    at: Annotated[
        str | None,
        typer.Option(metavar="INSTANT", help="Another moment than now, such as 2027-06-01T22:00Z."),
    ] = None,
    brief: Annotated[bool, typer.Option("--brief", help="Print one line.")] = False,
    is_: Annotated[
        str | None,
        typer.Option(
            "--is",
            metavar="STATE",
            help="Print nothing; exit with 0 if the door should be in this state (open or shut), "
            "with 1 if not, with 2 or more if that is not known.",
            autocompletion=one_of("open", "shut"),
        ),
    ] = None,
) -> None:
    """Say what the door should be now, and what is next."""
    from daylatch.commands.plan import today as command  # noqa: PLC0415

    if not command.run(site, at=at, brief=brief, asked=is_):
        raise typer.Exit(1)
