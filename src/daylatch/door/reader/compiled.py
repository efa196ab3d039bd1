"""The C reader, compiled here, so that what is tried out is what a controller runs."""

from __future__ import annotations

import ctypes
import os
import shlex
import shutil
import subprocess
import tempfile
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from daylatch.console import printable
from daylatch.errors import OutputError, UsageError

if TYPE_CHECKING:
    from numpy.typing import NDArray

_GOOD = 0
_COMPILE_S = 60


class _Reader(ctypes.Structure):
    """``daylatch_reader`` of daylatch_reader.h."""

    _fields_ = (
        ("bytes", ctypes.c_void_p),
        ("streams", ctypes.c_void_p * 3),
        ("used_up", ctypes.c_uint8),
    )


def load_library(folder: Path, *options: str) -> ctypes.CDLL:
    """Compile the reader into a folder and load it.

    Parameters
    ----------
    folder
        Where the library goes.
    options
        For the compiler, besides those that it needs.

    Raises
    ------
    OutputError
        Without a C compiler, or if it fails.
    """
    # As make has it: a program, and options for it if need be.
    compiler = (
        shlex.split(os.environ.get("CC", ""))
        or [name for name in ("cc", "gcc", "clang") if shutil.which(name)][:1]
    )
    if not compiler:
        raise OutputError(
            "the reader in C is compiled and run for this, and no C compiler (cc, gcc or clang) "
            "was found: install one, or name it in the variable CC"
        )
    target = folder / "daylatch_reader.so"
    with resources.as_file(resources.files("daylatch.door.reader")) as source:
        command = [
            *(*compiler, "-std=c99", "-O2", "-shared", "-fPIC", *options),
            *("-o", str(target), str(Path(source) / "daylatch_reader.c")),
        ]
        try:
            done = subprocess.run(
                command, capture_output=True, text=True, timeout=_COMPILE_S, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise OutputError(f"{compiler[0]}: cannot compile the reader in C: {error}") from error
    if done.returncode != 0:
        last = done.stderr.strip().splitlines()[-1:] or ["it says nothing"]
        raise OutputError(f"{compiler[0]}: cannot compile the reader in C: {printable(last[0])}")
    try:
        library = ctypes.CDLL(str(target))
    except OSError as error:
        raise OutputError(
            f"{compiler[0]}: made nothing of the reader in C that can be run here; is it this "
            "machine's C compiler?"
        ) from error
    library.daylatch_start.argtypes = (
        ctypes.POINTER(_Reader),
        ctypes.c_char_p,
        ctypes.c_uint16,
    )
    library.daylatch_door.argtypes = (
        ctypes.POINTER(_Reader),
        ctypes.c_uint16,
        ctypes.c_uint16,
    )
    library.daylatch_time.argtypes = (
        ctypes.POINTER(_Reader),
        ctypes.c_uint16,
        ctypes.c_uint8,
    )
    library.daylatch_time.restype = ctypes.c_int16
    library.daylatch_date.argtypes = (ctypes.c_uint16, ctypes.c_uint8, ctypes.c_uint8)
    library.daylatch_date.restype = ctypes.c_uint16
    library.daylatch_last.argtypes = (ctypes.POINTER(_Reader),)
    library.daylatch_last.restype = ctypes.c_uint16
    for name in ("daylatch_start", "daylatch_door"):
        getattr(library, name).restype = ctypes.c_uint8
    return library


class CompiledReader:
    """A table in the hands of the C reader.

    Parameters
    ----------
    library
        From `load_library`.
    table
        The bytes of a controller table.

    Attributes
    ----------
    status : int
        What ``daylatch_start`` said: 0 is good, the rest is in daylatch_reader.h.
    """

    def __init__(self, library: ctypes.CDLL, table: bytes) -> None:
        self._library = library
        self._table = ctypes.create_string_buffer(table, max(len(table), 1))
        self._reader = _Reader()
        self.status: int = library.daylatch_start(self._reader, self._table, len(table))

    def door(self, date: int, minute: int) -> int:
        """Return what the door should be: 0 unknown, 1 shut, 2 open."""
        state: int = self._library.daylatch_door(self._reader, date, minute)
        return state

    def time(self, date: int, closing: int) -> int:
        """Return when the door opens or closes on a date, in minutes since its midnight."""
        minute: int = self._library.daylatch_time(self._reader, date, closing)
        return minute

    def last(self) -> int:
        """Return the number of the last date that the table knows; 0xFFFF without a table."""
        date: int = self._library.daylatch_last(self._reader)
        return date

    def doors(self, dates: NDArray[Any], minutes: NDArray[Any]) -> NDArray[np.uint8]:
        """Return what the door should be at each date and minute."""
        ask, reader = self._library.daylatch_door, ctypes.byref(self._reader)
        states = map(ask, [reader] * len(dates), dates.tolist(), minutes.tolist())
        return np.fromiter(states, np.uint8, len(dates))


def read_with_c(table: bytes) -> CompiledReader:
    """Compile the reader and give it a table.

    Raises
    ------
    OutputError
        As `load_library`.
    UsageError
        If it refuses the table.
    """
    with tempfile.TemporaryDirectory(prefix="daylatch-", ignore_cleanup_errors=True) as folder:
        reader = CompiledReader(load_library(Path(folder)), table)
    if reader.status != _GOOD:
        raise UsageError(f"the reader in C refuses the table (status {reader.status})")
    return reader
