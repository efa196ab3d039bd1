"""Many houses: the same for thousands."""

from pathlib import Path
from typing import Annotated

import typer

from daylatch.cli.completion import site_files
from daylatch.cli.options import FirstOption, LastOption, YearOption
from daylatch.commands.dates import Range

section = typer.Typer()


@section.command()
def many(
    sites: Annotated[
        Path,
        typer.Argument(
            metavar="SITES",
            help="A table that ends in .csv, .parquet or .geojson: id, latitude, longitude, and "
            "if wanted zone and any key of the site file, such as close.offset_min.",
            show_default=False,
        ),
    ],
    year: YearOption = None,
    first: FirstOption = None,
    last: LastOption = None,
    like: Annotated[
        Path | None,
        typer.Option(
            metavar="SITE",
            help="A site file that says what the rows do not.",
            autocompletion=site_files,
        ),
    ] = None,
    ignored: Annotated[
        list[str] | None,
        typer.Option(
            "--ignore",
            metavar="COLUMN",
            help="A column of your own, such as a phone number; as many as you like.",
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="DIR", help="The folder of the dataset."),
    ] = None,
    summary: Annotated[
        bool, typer.Option("--summary", help="Write a row a house instead of one a day.")
    ] = False,
    workers: Annotated[
        int | None,
        typer.Option(metavar="NUMBER", help="How many processes; one a core if left out."),
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help="Use the workers of a dask scheduler that is there, such as tcp://10.0.0.5:8786.",
        ),
    ] = None,
) -> None:
    """Plan thousands of houses, from a table into a Parquet dataset.

    What neither a row nor --like says is as `daylatch new` would write it for the place. If it is
    interrupted, the same command goes on where it was; rows that changed are planned anew.
    """
    from daylatch.commands.many import many as command  # noqa: PLC0415

    status = command.run(
        sites,
        Range(year, first, last),
        output=output,
        like=like,
        ignored=ignored or (),
        summary=summary,
        workers=workers,
        scheduler=scheduler,
    )
    if status:
        raise typer.Exit(status)
