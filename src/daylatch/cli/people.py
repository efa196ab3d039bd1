"""People: who must know of the plan."""

from pathlib import Path
from typing import Annotated

import typer

from daylatch.cli.options import (
    FileOption,
    FirstOption,
    ForceOption,
    LastOption,
    OtherArgument,
    SiteArgument,
    UpdateOption,
    WithOption,
    YearOption,
    one_of,
)
from daylatch.commands import DEFAULT_SITE
from daylatch.commands.asked import Asked
from daylatch.commands.dates import Range
from daylatch.commands.forms import PICTURES
from daylatch.errors import UsageError

section = typer.Typer()

PaperOption = Annotated[
    str | None,
    typer.Option(
        metavar="PAPER",
        help="Size of the page: a4 or letter; writing.paper of the site file if left out.",
        autocompletion=one_of("a4", "letter"),
    ),
]


@section.command()
def card(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    rows: Annotated[
        str | None,
        typer.Option(
            metavar="ROWS",
            help="What a row stands for: weeks or months; if left out, card.rows of the site file, "
            "or a day where the dates are 31 or fewer.",
            autocompletion=one_of("weeks", "months"),
        ),
    ] = None,
    month: Annotated[
        str | None, typer.Option(metavar="MONTH", help="Day by day for a month, such as 2027-01.")
    ] = None,
    paper: PaperOption = None,
    each: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Instead of a site: the folder of a dataset of `daylatch many`, for a card of "
            "each of its houses; -o is a folder then.",
        ),
    ] = None,
    output: FileOption = None,
    force: ForceOption = False,
) -> None:
    """Make a page to pin up by the door, as .pdf or .html."""
    from daylatch.commands.people import card as command  # noqa: PLC0415

    wishes = command.CardWishes(rows, month, paper)
    if each is None:
        command.run(Asked(site, Range(year, first, last), output=output, force=force), wishes)
        return
    from daylatch.commands.people import each_card  # noqa: PLC0415 - for this option only

    if site != DEFAULT_SITE:
        raise UsageError(f"give either a site ({site}) or --each")
    status = each_card.run(each, Range(year, first, last), output, wishes, force=force)
    if status:
        raise typer.Exit(status)


@section.command()
def away(
    site: SiteArgument = DEFAULT_SITE,
    first: FirstOption = None,
    last: LastOption = None,
    sitter: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Who looks after the birds; the span's if left out."),
    ] = None,
    paper: PaperOption = None,
    output: FileOption = None,
    update: UpdateOption = False,
    force: ForceOption = False,
) -> None:
    """Make a sheet for a sitter, as .pdf, .html or .ics.

    It is for whoever looks after the birds while you are away. A row a day says when the door opens
    and closes, when to count, and how many there should be; below stands what to do if something is
    amiss. Without dates it is of the next [[span]] with away = true.
    """
    from daylatch.commands.people import away as command  # noqa: PLC0415

    command.run(
        Asked(site, Range(None, first, last), output=output, force=force, update=update),
        sitter=sitter,
        paper=paper,
    )


@section.command()
def draw(
    site: SiteArgument = DEFAULT_SITE,
    other: OtherArgument = None,
    picture: Annotated[
        str,
        typer.Option(
            metavar="PICTURE",
            help=f"What to draw: {', '.join(PICTURES[:-1])} or {PICTURES[-1]}.",
            autocompletion=one_of(*PICTURES),
        ),
    ] = PICTURES[0],
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
        Asked(site, Range(year, first, last), output=output, force=force),
        picture=picture,
        other=other,
        changes=changes or [],
    )


@section.command()
def report(
    site: SiteArgument = DEFAULT_SITE,
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    output: FileOption = None,
    force: ForceOption = False,
) -> None:
    """Write one page of everything, as .html.

    The summary, charts, nights, the house and the settings.
    """
    from daylatch.commands.people import report as command  # noqa: PLC0415

    command.run(Asked(site, Range(year, first, last), output=output, force=force))


@section.command()
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
    """Write a calendar for the web that people can subscribe to.

    It goes to any web host, with a page that says how to subscribe. Without dates it holds whole
    months: that of a week ago and the twelve after it.
    """
    from daylatch.commands.people import feed as command  # noqa: PLC0415

    command.run(site, Range(year, first, last), folder=output, force=force)


@section.command()
def sync(
    site: SiteArgument = DEFAULT_SITE,
    first: FirstOption = None,
    last: LastOption = None,
    url: Annotated[
        str | None,
        typer.Option(metavar="URL", help="The calendar's address, instead of sync.url."),
    ] = None,
    calendar: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="The calendar's name, instead of sync.calendar."),
    ] = None,
    away: Annotated[
        bool,
        typer.Option(
            "--away", help="Only a sitter's entries: of these dates, or of the next span away."
        ),
    ] = False,
    remove: Annotated[
        bool,
        typer.Option(
            "--remove",
            help="Take out this site's own entries of these dates; without dates all of them, "
            "which is asked first.",
        ),
    ] = False,
    yes: Annotated[
        bool, typer.Option("--yes", help="Take them all out without being asked.")
    ] = False,
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
    """Keep a calendar on a CalDAV server as the plan says.

    [sync] in the site file says which calendar, and how many days before and after today it holds.
    With --from and --until only entries of these dates are touched, and a sitter's are kept where
    you are away by the site file. User and password never stand there.
    """
    from daylatch.commands.people import sync as command  # noqa: PLC0415
    from daylatch.commands.people.sync_aim import SyncWishes  # noqa: PLC0415

    wishes = SyncWishes(
        Range(None, first, last),
        url,
        calendar,
        away=away,
        remove=remove,
        yes=yes,
        dry_run=dry_run,
        overwrite=overwrite,
        renamed=renamed,
        plain_http=plain_http,
    )
    if not command.run(site, wishes):
        raise typer.Exit(command.CONFLICTED)
