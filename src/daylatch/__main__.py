"""The program's entry: runs a command, and turns every trouble into one message and a status."""

from __future__ import annotations

import gc
import io
import os
import re
import sys

from daylatch.console import open_missing_streams, say

UNEXPECTED = 70
"""Exit status of trouble that nobody foresaw (EX_SOFTWARE of sysexits.h)."""
INTERRUPTED = 130
READER_LEFT = 141


def main() -> None:
    """Run the command line and leave the interpreter with its exit status."""
    lighten()
    open_missing_streams()
    # A name may hold any letter, whatever the terminal is said to take.
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")
    try:
        status = run(sys.argv[1:])
    except KeyboardInterrupt:
        status = _stopped()
    except RuntimeError as error:
        if not _is_interruption(error):
            raise
        status = _stopped()
    # Files are closed and streams flushed by now. Taking the interpreter apart object by object
    # would take another tenth of the run, to no one's use.
    os._exit(status)


def lighten() -> None:
    """Leave out what no run needs, before anything else is imported."""
    # A run lasts a fraction of a second and most of it goes into imports, of which collecting
    # garbage takes a tenth.
    gc.disable()
    # Nobody's add-ons take part in reading a site file.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # pytz need not open all of its 600 files to see that they are there.
    os.environ.setdefault("PYTZ_SKIPEXISTSCHECK", "1")


def run(arguments: list[str]) -> int:
    """Run a command and return its exit status; messages go to standard error."""
    # Imported here, after `lighten`.
    import typer  # noqa: PLC0415

    from daylatch.cli import app  # noqa: PLC0415
    from daylatch.errors import DaylatchError, OutputError  # noqa: PLC0415

    try:
        status = app(arguments, prog_name="daylatch", standalone_mode=False)
        sys.stdout.flush()
        sys.stderr.flush()
        if status == INTERRUPTED:
            # typer makes an exit of an interruption.
            return _stopped()
    except DaylatchError as error:
        for line in error.lines:
            say(f"daylatch: {line}")
        return error.exit_status
    except typer.TyperException as error:
        _say_misuse(error.format_message())
        return 2
    except (typer.Abort, KeyboardInterrupt, EOFError):
        return _stopped()
    except BrokenPipeError:
        return READER_LEFT
    except SystemExit as leaving:
        if isinstance(leaving.__context__, BrokenPipeError):
            # Nobody reads on, of which typer makes an exit; nothing more can be said.
            return READER_LEFT
        # Completion for a shell ends so; its status tells some shells whether there is any.
        return leaving.code if isinstance(leaving.code, int) else 0
    except OSError as error:
        say(f"daylatch: the output cannot be written: {error.strerror}")
        return OutputError.exit_status
    except Exception as error:
        if _is_interruption(error):
            return _stopped()
        say(
            f"daylatch: this should not have happened ({type(error).__name__}: {error}); "
            "please report it with the command and the site file"
        )
        return UNEXPECTED
    return status if isinstance(status, int) else 0


# What the library of the command line says of a number.
_PLAINLY = {
    "Input should be a valid integer.*": "write a whole number",
    "Input should be a valid number.*": "write a number, like 4.5",
}


def _say_misuse(message: str) -> None:
    """Say what is wrong with a command line; the help itself is such a message too."""
    if message.startswith("Usage:"):
        for line in message.split("\n"):
            say(line)
    else:
        for theirs, ours in _PLAINLY.items():
            message = re.sub(theirs, ours, message)
        say(f"daylatch: {message} (see daylatch --help)")


def _is_interruption(error: Exception) -> bool:
    """Return whether an error is an interruption that came amid the making of a class.

    Python up to 3.11 raises an error of its own then, of which the interruption is the cause.
    """
    return isinstance(error.__cause__, KeyboardInterrupt)


def _stopped() -> int:
    say("daylatch: stopped; nothing was changed")
    return INTERRUPTED


if __name__ == "__main__":
    main()
