"""The command line: what each command takes. What it does is in `daylatch.commands`.

Nothing heavy is imported here, so that ``--help`` answers at once.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import daylatch
from daylatch.commands import DEFAULT_SITE

app = typer.Typer(
    name="daylatch",
    help="Open and close times for a hen house's pop door, for any place and any day of the year.",
    epilog="A schedule does not see the birds: count heads at dusk.",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

SiteArgument = Annotated[
    Path,
    typer.Argument(metavar="SITE", help="The site file; site.toml of this folder if left out."),
]


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


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The site file to write.")],
    name: Annotated[str | None, typer.Option(help="What you call the house.")] = None,
    latitude: Annotated[
        str | None, typer.Option(help="Degrees north of the equator; south is negative.")
    ] = None,
    longitude: Annotated[
        str | None, typer.Option(help="Degrees east of Greenwich; west is negative.")
    ] = None,
    city: Annotated[
        str | None, typer.Option(help='Instead of coordinates: "Name" or "Name, country code".')
    ] = None,
    zone: Annotated[
        str | None, typer.Option(help="Time zone, such as Europe/Oslo; found if left out.")
    ] = None,
    fallback_open: Annotated[
        str | None, typer.Option(help="Opening on days without the light event, HH:MM.")
    ] = None,
    fallback_close: Annotated[
        str | None, typer.Option(help="Closing on days without the light event, HH:MM.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that exists.")] = False,
) -> None:
    """Write a commented site file to begin with.

    In a terminal it asks for whatever the options leave open.
    """
    from daylatch.commands import new as command  # noqa: PLC0415

    command.run(
        file,
        command.Wishes(
            name=name,
            latitude=latitude,
            longitude=longitude,
            city=city,
            zone=zone,
            fallback_open=fallback_open,
            fallback_close=fallback_close,
        ),
        force=force,
    )


@app.command()
def check(site: SiteArgument = DEFAULT_SITE) -> None:
    """Say what was understood of a site file, and try a plan."""
    from daylatch.commands import check as command  # noqa: PLC0415

    command.run(site)


@app.command()
def plan(
    site: SiteArgument = DEFAULT_SITE,
    year: Annotated[str | None, typer.Option(help="Plan a calendar year, such as 2027.")] = None,
    first: Annotated[
        str | None,
        typer.Option("--from", metavar="DATE", help="First date, such as 2027-03-01."),
    ] = None,
    last: Annotated[
        str | None, typer.Option("--until", metavar="DATE", help="Last date, included.")
    ] = None,
    to: Annotated[
        str | None,
        typer.Option(
            help="What to write: text, csv, ics or json; if left out, what the name of the file "
            "ends in, else text."
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE", help="Where; printed if left out."),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a file that daylatch did not write.")
    ] = False,
) -> None:
    """Plan when the door opens and closes.

    Without dates, the next 365 days from today at the site.
    """
    from daylatch.commands import plan as command  # noqa: PLC0415

    command.run(site, command.Range(year, first, last), to=to, output=output, force=force)


@app.command()
def explain(
    arguments: Annotated[
        list[str], typer.Argument(metavar="[SITE] DATE", help="The site file, and a date.")
    ],
) -> None:
    """Say in sentences how one day's times came about."""
    from daylatch.commands import explain as command  # noqa: PLC0415

    command.run(arguments)


@app.command()
def today(
    site: SiteArgument = DEFAULT_SITE,
    at: Annotated[
        str | None,
        typer.Option(metavar="INSTANT", help="Another instant, such as 2027-06-01T22:00Z."),
    ] = None,
    brief: Annotated[bool, typer.Option("--brief", help="Print one line.")] = False,
    is_: Annotated[
        str | None,
        typer.Option(
            "--is",
            metavar="STATE",
            help="Print nothing; exit with 0 if the door should be in this state (open or shut), "
            "with 1 if not, with 2 or more if that is not known.",
        ),
    ] = None,
) -> None:
    """Say what the door should be now, and what is next."""
    from daylatch.commands import today as command  # noqa: PLC0415

    if not command.run(site, at=at, brief=brief, asked=is_):
        raise typer.Exit(1)
