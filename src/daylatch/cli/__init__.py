"""The command line: what each command takes. What it does is in `daylatch.commands`.

Nothing heavy is imported here, so that ``--help`` answers at once.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

import daylatch
from daylatch.commands import DEFAULT_SITE
from daylatch.commands.dates import Range
from daylatch.commands.door.table import TableOptions

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
YearOption = Annotated[str | None, typer.Option("--year", help="A calendar year, such as 2027.")]
FirstOption = Annotated[
    str | None, typer.Option("--from", metavar="DATE", help="First date, such as 2027-03-01.")
]
LastOption = Annotated[
    str | None, typer.Option("--until", metavar="DATE", help="Last date, included.")
]
OutputOption = Annotated[
    Path | None, typer.Option("--output", "-o", metavar="FILE", help="Where; printed if left out.")
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
        help="Of a calendar over its earlier file: what is no longer planned stays in it, as "
        "cancelled.",
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
    Path | None, typer.Argument(metavar="OTHER", help="Another site file to compare with.")
]


def _to(*forms: str) -> Any:
    return typer.Option(
        "--to",
        metavar="FORM",
        help=f"What to write: {', '.join(forms[:-1])} or {forms[-1]}; if left out, what the name "
        "of the file ends in, else text.",
    )


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
    from daylatch.commands.begin import new as command  # noqa: PLC0415

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
    from daylatch.commands.begin import check as command  # noqa: PLC0415

    command.run(site)


@app.command()
def plan(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    to: Annotated[str | None, _to("text", "csv", "ics", "json", "table")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
    update: UpdateOption = False,
    as_: Annotated[
        str | None,
        typer.Option("--as", metavar="FORM", help="Of a table: bin (if left out), c or hex."),
    ] = None,
    within: Annotated[
        str | None,
        typer.Option(
            metavar="MIN",
            help="How late a table's movements may come, never early; it gets smaller.",
        ),
    ] = None,
    address: Annotated[
        str | None,
        typer.Option(metavar="HEX", help="Where --as hex puts the table, such as 0x1F00."),
    ] = None,
    every_year: Annotated[
        bool,
        typer.Option("--every-year", help="One table by month and day for all years asked for."),
    ] = False,
    clock_margin: Annotated[
        str | None,
        typer.Option(
            metavar="MIN",
            help="How wrong a table's clock may be, either way, with --within still kept; it "
            "takes twice as much of that.",
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
        site,
        Range(year, first, last),
        to=to,
        output=output,
        force=force,
        update=update,
        table=TableOptions(as_, within, address, every_year, clock_margin, memory),
    )


@app.command()
def explain(
    arguments: Annotated[
        list[str], typer.Argument(metavar="[SITE] DATE", help="The site file, and a date.")
    ],
) -> None:
    """Say in sentences how one day's times came about."""
    from daylatch.commands.plan import explain as command  # noqa: PLC0415

    command.run(arguments)


@app.command()
def nights(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    longer_than: Annotated[
        float | None,
        typer.Option(
            metavar="HOURS",
            help="Which lock-ins count as long; norms.long_night_h of the site file if left out, "
            "else 14.",
        ),
    ] = None,
    to: Annotated[str | None, _to("text", "csv", "json")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Say how long the birds are shut in, night by night, and how much of that they are awake."""
    from daylatch.commands.birds import nights as command  # noqa: PLC0415

    command.run(
        site,
        Range(year, first, last),
        longer_than_h=longer_than,
        to=to,
        output=output,
        force=force,
    )


@app.command()
def fit(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    to: Annotated[str | None, _to("text", "json")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Hold the house against norms of space, roosts, nests, feed and water."""
    from daylatch.commands.birds import fit as command  # noqa: PLC0415

    command.run(site, Range(year, first, last), to=to, output=output, force=force)


@app.command()
def compare(
    site: SiteArgument = DEFAULT_SITE,
    other: OtherArgument = None,
    changes: WithOption = None,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    to: Annotated[str | None, _to("text", "csv", "json")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Say what other settings would cost or gain: give them with --with, or as another file."""
    from daylatch.commands.birds import compare as command  # noqa: PLC0415

    command.run(
        site,
        Range(year, first, last),
        other=other,
        changes=changes or [],
        to=to,
        output=output,
        force=force,
    )


@app.command()
def daylength(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    to: Annotated[str | None, _to("text", "csv", "ics", "json")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
    update: UpdateOption = False,
) -> None:
    """Say how long the day is for laying, and when a lamp would keep the length you want."""
    from daylatch.commands.birds import daylength as command  # noqa: PLC0415

    command.run(site, Range(year, first, last), to=to, output=output, force=force, update=update)


@app.command()
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
            metavar="N", help="Instead: how many settings the list may have, the least late of all."
        ),
    ] = None,
    on: Annotated[
        str | None,
        typer.Option(
            metavar="DATES",
            help="When you will change it: any, month-starts, or weekdays like saturday,sunday.",
        ),
    ] = None,
    together: Annotated[
        bool | None,
        typer.Option(
            "--together/--apart",
            help="Whether opening and closing are changed on the same dates.",
        ),
    ] = None,
    step: Annotated[
        int | None,
        typer.Option(metavar="MIN", help="The timer's steps: 1, 5, 10, 15 or 30 minutes."),
    ] = None,
    clock_margin: Annotated[
        int | None,
        typer.Option(
            metavar="MIN",
            help="How wrong the timer's clock may be, either way, with the tolerance still kept; "
            "it takes twice as much of that.",
        ),
    ] = None,
    to: Annotated[str | None, _to("text", "csv", "ics", "html", "json")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
    update: UpdateOption = False,
) -> None:
    """List when to change a plain timer, and to what: as few settings as keep it on time.

    What the timer can do stands under [timer] in the site file; the options try out other wishes.
    """
    from daylatch.commands.door import settings as command  # noqa: PLC0415

    command.run(
        site,
        Range(year, first, last),
        command.Trial(tolerance, changes, on, together, step, clock_margin),
        to=to,
        output=output,
        force=force,
        update=update,
    )


@app.command()
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
        typer.Option(metavar="KIND", help="What beats in the clock: crystal, compensated or rc."),
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
    to: Annotated[str | None, _to("text", "csv", "json")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Say how wrong the door's clock may be by date, and when it must be set again.

    What the clock is stands under [clock] in the site file; the options try out others.
    """
    from daylatch.commands.door import drift as command  # noqa: PLC0415

    command.run(
        site,
        Range(year, first, last),
        {
            "--set-on": ("set_on", set_on),
            "--margin": ("margin_min", margin),
            "--ppm": ("accuracy_ppm", ppm),
            "--oscillator": ("oscillator", oscillator),
            "--coldest": ("coldest_c", coldest),
            "--warmest": ("warmest_c", warmest),
            "--set-error": ("set_error_s", set_error),
        },
        to=to,
        output=output,
        force=force,
    )


@app.command()
def reader(
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="DIR", help="The folder that they go into."),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace files that were changed there.")
    ] = False,
) -> None:
    """Write out the C files that read a controller table, and a skeleton of a door's controller."""
    from daylatch.commands.door import reader as command  # noqa: PLC0415

    command.run(output, force=force)


@app.command()
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
            help="When the clock is set right, such as 2027-04-01T10:00Z; or so many minutes fast.",
        ),
    ] = None,
    power_cut: Annotated[
        list[str] | None,
        typer.Option(metavar="FROM/UNTIL", help="When there is no power, two instants."),
    ] = None,
    loses_time: Annotated[
        bool, typer.Option("--loses-time", help="The clock stops without power, until it is set.")
    ] = False,
    misses_changes: Annotated[
        bool,
        typer.Option("--misses-changes", help="Nobody moves the clock in spring and autumn."),
    ] = False,
    to: Annotated[str | None, _to("text", "csv")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Try out a controller's door, minute by minute, with a clock that is not always right.

    The table is read by the C reader, which a C compiler of this machine compiles.
    """
    from daylatch.commands.door import simulate as command  # noqa: PLC0415

    command.run(
        site,
        Range(year, first, last),
        command.Troubles(drift, set_ or [], power_cut or [], misses_changes, loses_time),
        table=TableOptions(within=within, clock_margin=clock_margin),
        to=to,
        output=output,
        force=force,
    )


@app.command()
def draw(
    site: SiteArgument = DEFAULT_SITE,
    other: OtherArgument = None,
    picture: Annotated[
        str,
        typer.Option(metavar="PICTURE", help="What to draw: year, nights or compare."),
    ] = "year",
    changes: WithOption = None,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    output: FileOption = None,
    force: ForceOption = False,
) -> None:
    """Draw the year, its nights or a comparison, as .svg, .png or .pdf.

    A comparison is drawn of the site and other settings: give them with --with, or as another
    file.
    """
    from daylatch.commands.people import draw as command  # noqa: PLC0415

    command.run(
        site,
        Range(year, first, last),
        picture=picture,
        other=other,
        changes=changes or [],
        output=output,
        force=force,
    )


@app.command()
def card(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    rows: Annotated[
        str, typer.Option(metavar="ROWS", help="What a row stands for: weeks or months.")
    ] = "weeks",
    month: Annotated[
        str | None, typer.Option(metavar="MONTH", help="Day by day for a month, such as 2027-01.")
    ] = None,
    paper: Annotated[
        str, typer.Option(metavar="PAPER", help="Size of the page: a4 or letter.")
    ] = "a4",
    output: FileOption = None,
    force: ForceOption = False,
) -> None:
    """Make a page to pin up by the door, as .pdf or .html."""
    from daylatch.commands.people import card as command  # noqa: PLC0415

    command.run(
        site,
        Range(year, first, last),
        rows=rows,
        month=month,
        paper=paper,
        output=output,
        force=force,
    )


@app.command()
def report(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    output: FileOption = None,
    force: ForceOption = False,
) -> None:
    """Write one page of everything: summary, charts, nights, the house, settings (.html)."""
    from daylatch.commands.people import report as command  # noqa: PLC0415

    command.run(site, Range(year, first, last), output=output, force=force)


@app.command()
def feed(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="DIR", help="The folder that is for the web."),
    ] = None,
    force: ForceOption = False,
) -> None:
    """Write a calendar for any web host, for people to subscribe to, and a page that says how.

    Without dates, whole months: that of a week ago and the twelve after it.
    """
    from daylatch.commands.people import feed as command  # noqa: PLC0415

    command.run(site, Range(year, first, last), folder=output, force=force)


@app.command()
def sync(
    site: SiteArgument = DEFAULT_SITE,
    url: Annotated[
        str | None,
        typer.Option(metavar="URL", help="The calendar's address, instead of sync.url."),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Print what would be done, and do nothing.")
    ] = False,
    overwrite: Annotated[
        bool,
        typer.Option("--overwrite", help="Replace entries that were edited elsewhere, too."),
    ] = False,
    renamed: Annotated[
        bool,
        typer.Option(
            "--renamed", help="The site has a new name or place; its entries there are its own."
        ),
    ] = False,
    plain_http: Annotated[
        bool,
        typer.Option("--plain-http", help="Send the password over http, where others can read it."),
    ] = False,
) -> None:
    """Keep a calendar on a CalDAV server as the plan says, from a week ago to 60 days ahead.

    The calendar stands under [sync] in the site file; user and password never do.
    """
    from daylatch.commands.people import sync as command  # noqa: PLC0415

    wishes = command.Wishes(url, dry_run, overwrite, renamed, plain_http)
    if not command.run(site, wishes):
        raise typer.Exit(command.CONFLICTED)


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
    from daylatch.commands.plan import today as command  # noqa: PLC0415

    if not command.run(site, at=at, brief=brief, asked=is_):
        raise typer.Exit(1)
