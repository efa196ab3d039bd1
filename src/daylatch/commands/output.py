"""What every command does around its work: what it loads, and where its result goes."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from daylatch.commands.calendars import warn_about_calendar
from daylatch.commands.now import date_now, stamp_utc, warn_about, warn_about_seconds
from daylatch.commands.progress import shown_progress
from daylatch.console import print_bytes, say
from daylatch.errors import OutputError
from daylatch.files.occasion import Occasion
from daylatch.site.reading.site_file import load_site

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from daylatch.commands.asked import Asked
    from daylatch.files.forms import Form
    from daylatch.site.tables import Site


def load(asked: Asked) -> tuple[Site, dt.date, dt.date]:
    """Return the site, after warnings about it, with the first and last date.

    Raises
    ------
    SiteError, UsageError
        If the file or the dates cannot be used.
    """
    site = load_site(asked.path)
    warn_about(site)
    return site, *dates_of(asked, site)


def dates_of(asked: Asked, site: Site) -> tuple[dt.date, dt.date]:
    """Return the first and last date, after a warning if their clocks are not known to the second.

    Raises
    ------
    UsageError, PlanError
        If the dates cannot be used, or hang on a clock that is beyond all plans.
    """
    first, last = asked.wanted.dates(partial(date_now, site))
    warn_about_seconds(site, first, last)
    return first, last


def hand_over(
    asked: Asked,
    form: Form,
    site: Site,
    render: Callable[[Callable[..., Any], Callable[[], Occasion]], bytes],
    *,
    about: str | Callable[[bytes], str],
    also_read: Sequence[Path] = (),
) -> None:
    """Print a command's result in a form, or put it into the file that was asked for.

    Parameters
    ----------
    asked
        Where to.
    form
        In which form.
    site
        Whose result it is.
    render
        Makes the content with the ``render`` of the form's module, which is given to it, and with
        what returns the occasion, for those that need it.
    about
        As for `deliver`.
    also_read
        Further site files that must not be overwritten.

    Raises
    ------
    DaylatchError
        If the result cannot be made, or the file must not or cannot be written.
    """
    if form.is_calendar:
        from daylatch.commands.identity import refuse_to_mix  # noqa: PLC0415 - for calendars only

        refuse_to_mix(site, asked.path)
    if form.needs_pictures:
        from daylatch.commands.extras import require_pictures  # noqa: PLC0415 - for pages only

        require_pictures()
    writer = form.writer()
    write = partial(writer.render, update=asked.update) if form.is_calendar else writer.render

    def content(previous: bytes | None) -> bytes:
        with shown_progress("Working it out") as tell:
            made = render(write, lambda: Occasion(stamp_utc(), previous, tell))
        if form.is_calendar:
            warn_about_calendar(made, previous, update=asked.update)
        return made

    deliver(
        content,
        writer.wrote,
        asked.output,
        site_paths=[asked.path, *also_read],
        force=asked.force,
        about=about,
        site_id=site.id if form.has_id else None,
    )


def deliver(
    render: Callable[[bytes | None], bytes],
    wrote: Callable[[bytes], bool],
    output: Path | None,
    *,
    site_paths: Sequence[Path],
    force: bool,
    about: str | Callable[[bytes], str],
    site_id: str | None = None,
) -> None:
    """Print a result, or put it into a file.

    Parameters
    ----------
    render
        Makes the content, from that of the file which is replaced (None without one).
    wrote
        Whether a content is of the kind that ``render`` makes.
    output
        Where to; None prints.
    site_paths
        The site files that were read, which must not be overwritten.
    force
        Whether the keeper agreed to lose what is there.
    about
        What is said of the file once it is written, such as its dates; or what makes that from
        its content.
    site_id
        For forms that tell which house they are for: the id that the file to be replaced must
        carry.

    Raises
    ------
    OutputError
        If the file must not or cannot be written.
    """
    if output is None:
        print_bytes(render(None))
        return
    previous = check_target(output, wrote, site_paths=site_paths, force=force, site_id=site_id)
    content = render(previous)
    put_in_place(output, previous, content, about if isinstance(about, str) else about(content))


def check_target(
    output: Path,
    wrote: Callable[[bytes], bool],
    *,
    site_paths: Sequence[Path],
    force: bool,
    site_id: str | None = None,
) -> bytes | None:
    """Return the content of the file that is about to be replaced; None without one of ours.

    Parameters are those of `deliver`.

    Raises
    ------
    OutputError
        If what is there must not be replaced.
    """
    from daylatch.files.put import is_same_file, read_own  # noqa: PLC0415 - not needed for printing

    _refuse_diary(output, wrote)
    if any(is_same_file(output, path) for path in site_paths):
        raise OutputError(f"{output}: is the site file itself; choose another name")
    previous = read_own(output, wrote, force=force)
    if previous is not None and site_id is not None and site_id.encode() not in previous:
        if not force:
            raise OutputError(
                f"{output}: holds the plan of another house (another id); choose another name, or "
                "add --force to replace it"
            )
        return None
    return previous


def _refuse_diary(output: Path, wrote: Callable[[bytes], bool]) -> None:
    """Refuse to replace a diary by anything but a backup: nobody means that, whatever is forced.

    Raises
    ------
    OutputError
        If it is one.
    """
    from daylatch.files.own import DIARY_HEAD_BYTES, is_diary  # noqa: PLC0415 - as above

    try:
        if not output.is_file():
            return
        with output.open("rb") as file:
            begins = file.read(DIARY_HEAD_BYTES)
    except OSError:
        return
    if is_diary(begins) and not wrote(begins):
        raise OutputError(f"{output}: is a diary, so it is left as it is; choose another name")


def put_in_place(output: Path, previous: bytes | None, content: bytes, about: str) -> None:
    """Write a file unless it is there already, and say so.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    from daylatch.files.put import put  # noqa: PLC0415 - not needed for printing

    if content == previous:
        say(f"{output}: already up to date")
    else:
        put(output, content)
        say(f"wrote {output}: {about}")
