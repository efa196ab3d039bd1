"""What happened: the diary, and what ails the door."""

from pathlib import Path
from typing import Annotated

import typer

from daylatch.cli.completion import site_files
from daylatch.cli.options import (
    FirstOption,
    ForceOption,
    LastOption,
    OutputOption,
    SiteArgument,
    WithOption,
    one_of,
    to_option,
)
from daylatch.cli.sections import SectionedGroup
from daylatch.commands import DEFAULT_SITE
from daylatch.commands.dates import Range

section = typer.Typer()
diary = typer.Typer(
    cls=SectionedGroup, help="Note what the door and the birds did.", no_args_is_help=True
)
section.add_typer(diary, name="diary")

LogArgument = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[SITE] [LOG]",
        help="The site file, and a log as CSV; the diary if no log is named.",
        autocompletion=site_files,
        show_default=False,
    ),
]
AsOption = Annotated[
    str | None,
    typer.Option(
        "--as", metavar="NAME", help="By which [[diary.log]] of the site file a log is read."
    ),
]


@diary.command()
def add(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[SITE] WORDS",
            help='What you saw, such as "last in 20:14".',
            autocompletion=site_files,
            show_default=False,
        ),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option(metavar="INSTANT", help="When it was, such as 2027-06-01T22:00Z."),
    ] = None,
    stamped_by: Annotated[
        str,
        typer.Option(
            metavar="WHAT",
            help="What stamped it: phone (any right clock), server, door or memory; if left out, "
            "memory for a time that is not just now.",
            autocompletion=one_of("phone", "server", "door", "memory"),
        ),
    ] = "",
    within: Annotated[
        str,
        typer.Option(
            metavar="MIN", help="How sure the time is, either way; if left out, 1, by memory 5."
        ),
    ] = "",
    by: Annotated[
        str, typer.Option(metavar="NAME", help="Who reports it; the keeper if left out.")
    ] = "",
    instead_of: Annotated[
        int | None,
        typer.Option(metavar="NUMBER", help="The entry that this one corrects."),
    ] = None,
) -> None:
    """Note what you saw, such as "last in 20:14".

    The time is that of the wall clock at the site, and today's unless a date stands there; without
    a time it is now.
    """
    from daylatch.commands.happened import add as command  # noqa: PLC0415

    command.run(words or [], at=at, given=(stamped_by, within, by), instead_of=instead_of)


@diary.command()
def show(
    site: SiteArgument = DEFAULT_SITE,
    first: FirstOption = None,
    last: LastOption = None,
    everything: Annotated[
        bool,
        typer.Option("--all", help="Show what is undone or corrected, too."),
    ] = False,
) -> None:
    """Show what was seen, day by day, beside what was due.

    Without dates, the last seven days.
    """
    from daylatch.commands.happened import show as command  # noqa: PLC0415

    command.run(site, Range(None, first, last), everything=everything)


@diary.command()
def undo(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[SITE] [WHICH]",
            help="The entry to undo, such as 41; several, 41-60; or all of a log, by its name. If "
            "left out, all that the last command noted.",
            autocompletion=site_files,
            show_default=False,
        ),
    ] = None,
) -> None:
    """Take back what was noted last, or other entries.

    It stays in the diary, marked as undone.
    """
    from daylatch.commands.happened import undo as command  # noqa: PLC0415

    command.run(words or [])


@diary.command("import")
def import_(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[SITE] LOG",
            help="A CSV file.",
            autocompletion=site_files,
            show_default=False,
        ),
    ] = None,
    as_: Annotated[
        str | None,
        typer.Option(
            "--as", metavar="NAME", help="By which [[diary.log]] of the site file it is read."
        ),
    ] = None,
    rejects: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Where bad rows go; beside the log if left out."),
    ] = None,
    again: Annotated[
        bool,
        typer.Option("--again", help="Take in rows too that were undone before."),
    ] = False,
) -> None:
    """Take in a log of the door, of any layout.

    A [[diary.log]] in the site file says what its columns and words mean. What is in the diary
    already is not added again.
    """
    from daylatch.commands.happened import import_log as command  # noqa: PLC0415

    if not command.run(words or [], mapping=as_, rejects=rejects, again=again):
        raise typer.Exit(8)


@diary.command()
def export(
    site: SiteArgument = DEFAULT_SITE,
    first: FirstOption = None,
    last: LastOption = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Write the diary as CSV, which import reads.

    Without dates all of it.
    """
    from daylatch.commands.happened import export as command  # noqa: PLC0415

    command.run(site, Range(None, first, last), output=output, force=force)


@diary.command()
def backup(
    site: SiteArgument = DEFAULT_SITE,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Write all that the diary holds into one file, also what a CSV cannot carry."""
    from daylatch.commands.happened import backup as command  # noqa: PLC0415

    command.run(site, output=output, force=force)


@diary.command()
def restore(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[SITE] BACKUP",
            help="A file of daylatch diary backup.",
            autocompletion=site_files,
            show_default=False,
        ),
    ] = None,
) -> None:
    """Bring back what a backup holds and the diary lacks.

    Nothing that the diary holds is lost.
    """
    from daylatch.commands.happened import restore as command  # noqa: PLC0415

    command.run(words or [])


@section.command()
def audit(
    words: LogArgument = None,
    first: FirstOption = None,
    last: LastOption = None,
    as_: AsOption = None,
    to: Annotated[str | None, to_option("audit")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Say what the door did of what was due, and what ails its clock.

    Without dates, all of the log, or the last 365 days of the diary.
    """
    from daylatch.commands.happened import audit as command  # noqa: PLC0415

    command.run(
        words or [], Range(None, first, last), to=to, output=output, force=force, mapping=as_
    )


@section.command()
def roosting(
    words: LogArgument = None,
    first: FirstOption = None,
    last: LastOption = None,
    as_: AsOption = None,
    share: Annotated[
        str | None,
        typer.Option(
            metavar="PERCENT",
            help="On how many evenings all should be in when the door shuts; if left out, 95, or "
            "as many as the log can promise.",
        ),
    ] = None,
    changes: WithOption = None,
    write: Annotated[
        bool,
        typer.Option(
            "--write", help="Put the proposal into the site file; in a terminal it asks first."
        ),
    ] = False,
    to: Annotated[str | None, to_option("roosting")] = None,
    output: OutputOption = None,
    force: ForceOption = False,
) -> None:
    """Learn at which light your birds go in, and when to shut.

    From `last in`, `still out` and `all in` of the diary or a log; for mornings from `first out`,
    `waiting` and `none waiting`. It says how sure that is, on what share of evenings a rule would
    do, and what it costs. Without dates, all of the log, or the last 365 days of the diary.
    """
    from daylatch.commands.happened import roosting as command  # noqa: PLC0415

    command.run(
        words or [],
        Range(None, first, last),
        to=to,
        output=output,
        force=force,
        mapping=as_,
        share=share,
        changes=changes or [],
        write=write,
    )
