"""Files that nobody else may read."""

from __future__ import annotations

import os
import stat
from typing import TYPE_CHECKING

from daylatch.errors import SecretsError
from daylatch.files.plain import NotPlainError, read_plain

if TYPE_CHECKING:
    from pathlib import Path


def read_private(path: Path, most_bytes: int, remedy: str) -> tuple[os.stat_result, bytes] | None:
    """Return what is known of a file that nobody else can read, and what it holds.

    Parameters
    ----------
    path
        Where it is.
    most_bytes
        How large it may be [bytes].
    remedy
        What to do if others could read it.

    Returns
    -------
    tuple of os.stat_result and bytes, or None
        None if there is no file.

    Raises
    ------
    SecretsError
        If others may read it, or it cannot be read.
    """
    try:
        status, content = read_plain(path, most_bytes)
    except FileNotFoundError:
        return None
    except NotPlainError as error:
        raise SecretsError(f"{path}: {error}: move it away") from error
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise SecretsError(f"{path}: cannot be read ({why}): look at its rights") from error
    mode = status.st_mode
    if os.name == "posix" and status.st_uid not in (os.getuid(), 0):
        raise SecretsError(f"{path}: belongs to somebody else, so the secrets in it are none")
    if os.name == "posix" and stat.S_IMODE(mode) & (stat.S_IRWXG | stat.S_IRWXO):
        raise SecretsError(
            f"{path}: others may read it (mode {stat.S_IMODE(mode):03o}), so the secrets in it "
            f"are none: {remedy}"
        )
    if len(content) > most_bytes:
        raise SecretsError(f"{path}: is over {most_bytes} bytes, and no such file is")
    return status, content
