"""The door: what works it, and when it will really move."""

from pathlib import Path
from typing import Annotated

import typer

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
from daylatch.site.choices.oscillators import name_oscillators

section = typer.Typer()


@section.command()
def settings(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    tolerance: Annotated[
        int | None,
        typer.Option(metavar="MIN", help="How late the door may move at most; it is never early."),
    ] = None,
    changes: Annotated[
        int | None,
        typer.Option(
            metavar="N",
            help="Instead: how many settings the list may have; it is then as little late as it "
            "can be.",
        ),
    ] = None,
    on: Annotated[
        str | None,
        typer.Option(
            metavar="DATES",
            help="When you will change it: any, month-starts, or weekdays like saturday,sunday.",
            autocompletion=one_of("any", "month-starts", "saturday,sunday"),
        ),
    ] = None,
    together: Annotated[
        bool | None,
        typer.Option(
            "--together/--apart",
            help="Whether all movements are changed on the same dates.",
        ),
    ] = None,
    step: Annotated[
        int | None,
        typer.Option(
            metavar="MIN",
            help="The timer's steps: 1, 5, 10, 15 or 30 minutes.",
            autocompletion=one_of("1", "5", "10", "15", "30"),
        ),
    ] = None,
    clock_margin: Annotated[
        int | None,
        typer.Option(
            metavar="MIN",
            help="How wrong the timer's clock may be, fast or slow, with the door still within the "
            "tolerance, which must be at least twice as much.",
        ),
    ] = None,
    lamp: Annotated[
        bool,
        typer.Option(
            "--lamp",
            help="The list for the lamp's timer ([laying.timer]) instead of the door's.",
        ),
    ] = False,
    to: Annotated[str | None, to_option("settings")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
    update: UpdateOption = False,
) -> None:
    """List when to change a plain timer, and to what.

    As few settings as keep it on time. What the timer can do stands under [timer] in the site
    file; the options try out other wishes.
    """
    from daylatch.commands.door import settings as command  # noqa: PLC0415

    command.run(
        Asked(site, Range(year, first, last), to, output, force, update),
        command.Trial(tolerance, changes, on, together, step, clock_margin),
        lamp=lamp,
    )


@section.command()
def drift(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    set_on: Annotated[
        str | None,
        typer.Option("--set-on", metavar="DATE", help="When the door's clock was set last."),
    ] = None,
    margin: Annotated[
        int | None,
        typer.Option(metavar="MIN", help="How wrong the clock may become, either way."),
    ] = None,
    ppm: Annotated[
        float | None,
        typer.Option(metavar="PPM", help="The clock's accuracy, by its data sheet."),
    ] = None,
    oscillator: Annotated[
        str | None,
        typer.Option(metavar="KIND", help=f"What keeps the clock's time: {name_oscillators()}."),
    ] = None,
    coldest: Annotated[
        float | None,
        typer.Option(metavar="C", help="How cold it gets where the clock is, in degrees Celsius."),
    ] = None,
    warmest: Annotated[
        float | None,
        typer.Option(metavar="C", help="How warm it gets there, in degrees Celsius."),
    ] = None,
    set_error: Annotated[
        int | None,
        typer.Option(metavar="S", help="How wrong the clock may be when it has just been set."),
    ] = None,
    to: Annotated[str | None, to_option("drift")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Say how wrong the door's clock may be, and when to set it again.

    What the clock is stands under [clock] in the site file; the options try out others.
    """
    from daylatch.commands.door import drift as command  # noqa: PLC0415

    command.run(
        Asked(site, Range(year, first, last), to, output, force),
        {
            "--set-on": ("set_on", set_on),
            "--margin": ("margin_min", margin),
            "--ppm": ("accuracy_ppm", ppm),
            "--oscillator": ("oscillator", oscillator),
            "--coldest": ("coldest_c", coldest),
            "--warmest": ("warmest_c", warmest),
            "--set-error": ("set_error_s", set_error),
        },
    )


@section.command()
def power(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    to: Annotated[str | None, to_option("power")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Say whether panel and battery carry the door through winter.

    Day by day, from [panel], [battery] and [load] of the site file: the lowest charge, days without
    work and without sun, and what would do. Voltages of the diary stand beside.
    """
    from daylatch.commands.door import power as command  # noqa: PLC0415

    command.run(Asked(site, Range(year, first, last), to, output, force))


@section.command()
def reader(
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="DIR", help="The folder that they go into."),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace files that were changed there.")
    ] = False,
) -> None:
    """Write out the C files that read a controller table.

    With a skeleton of a door's controller, and an example of a networked door.
    """
    from daylatch.commands.door import reader as command  # noqa: PLC0415

    command.run(output, force=force)


@section.command()
def simulate(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    within: Annotated[
        str | None,
        typer.Option(metavar="MIN", help="How late the table may be; exact if left out."),
    ] = None,
    clock_margin: Annotated[
        str | None,
        typer.Option(
            metavar="MIN", help="How wrong a clock the table allows for, within its width."
        ),
    ] = None,
    drift: Annotated[
        float,
        typer.Option(
            metavar="PPM",
            help="By how much the clock runs fast, in parts per million; below 0: slow.",
        ),
    ] = 0.0,
    set_: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="INSTANT[,MIN]",
            help="When the clock is set, such as 2027-04-01T10:00Z; after a comma, by how many "
            "minutes fast.",
        ),
    ] = None,
    power_cut: Annotated[
        list[str] | None,
        typer.Option(metavar="FROM/UNTIL", help="A power cut: two instants, from when until when."),
    ] = None,
    loses_time: Annotated[
        bool, typer.Option("--loses-time", help="The clock stops without power, until it is set.")
    ] = False,
    misses_changes: Annotated[
        bool,
        typer.Option("--misses-changes", help="Nobody moves the clock in spring and autumn."),
    ] = False,
    to: Annotated[str | None, to_option("simulate")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Try out a controller's door with a clock that goes wrong.

    Minute by minute. The table is read by the C reader, which a C compiler of this machine
    compiles.
    """
    from daylatch.commands.door import simulate as command  # noqa: PLC0415

    command.run(
        Asked(site, Range(year, first, last), to, output, force),
        command.Troubles(drift, set_ or [], power_cut or [], misses_changes, loses_time),
        table=TableOptions(within=within, clock_margin=clock_margin),
    )
