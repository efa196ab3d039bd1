"""Where a command's result goes: to standard output, or into a file that may be replaced."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.console import print_bytes, say
from daylatch.errors import OutputError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

FORM_OF_NAME = {".csv": "csv", ".ics": "ics", ".json": "json"}
"""What a file is meant to be by the end of its name, if nothing else is said."""


def choose_form(to: str | None, output: Path | None, forms: Mapping[str, object]) -> str:
    """Return the form that is asked for, by name or by the end of the file's name.

    Raises
    ------
    UsageError
        If there is no such form.
    """
    if to is None:
        to = FORM_OF_NAME.get(output.suffix.lower(), "text") if output else "text"
    if to not in forms:
        raise UsageError(f'--to is "{to}": write one of {", ".join(forms)}')
    return to


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
    from daylatch.files.put import read_own  # noqa: PLC0415 - not needed for printing

    if output.exists() and any(map(output.samefile, site_paths)):
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
