"""``daylatch new --like``: a copy of a site file, for another house or to try something."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from daylatch.console import printable
from daylatch.errors import OutputError, UsageError
from daylatch.files.put import is_same_file, put
from daylatch.site.reading.site_file import load_site, read_site
from daylatch.site.table import check_name

if TYPE_CHECKING:
    from pathlib import Path


def write_like(file: Path, like: Path, name: str | None) -> None:
    """Write a copy of a site file with an ``id`` of its own, and with another name if one is given.

    Its comments and its order stay, but that a table that is written in parts comes together.

    Raises
    ------
    SiteError
        If the file to copy cannot be used.
    OutputError
        If it is the file to copy itself.
    UsageError
        If the name cannot be one, or the copy would not be understood.
    """
    site = load_site(like)
    if is_same_file(file, like):
        raise OutputError(f"{file}: is the file to copy; choose another name")
    import tomlkit  # noqa: PLC0415 - for this option only

    # With its ends of lines as they are.
    document = tomlkit.parse(like.read_bytes().decode("utf-8-sig"))
    document["id"] = str(uuid.uuid4())
    if name is not None:
        try:
            document["name"] = check_name(name.strip())
        except ValueError as error:
            raise UsageError(f'--name is "{name}": {error}') from None
    text = tomlkit.dumps(document)
    copy = read_site(text, str(file))
    put(file, text.encode())
    print(
        f"wrote {printable(str(file))}: like {printable(str(like))}, with an id of its own"
        + (f", as {copy.name}" if copy.name != site.name else "")
    )
    print(f"Next: daylatch check {printable(str(file))}")
