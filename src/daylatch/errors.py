"""What can go wrong, and the exit status that each kind of trouble ends with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from daylatch.console import printable


@dataclass(frozen=True)
class Problem:
    """One slip in a site file: where it stands, what was found there, and the remedy.

    Attributes
    ----------
    key : str
        Dotted, as a keeper would write it, for instance ``open.not_before`` or ``span 2 from``.
    found : str
        The value as it stands in the file; empty if something is missing.
    remedy : str
        What would be right.
    line : int or None
        Counted from one.
    """

    key: str
    found: str
    remedy: str
    line: int | None = None

    def sentence(self, file: str) -> str:
        """Return the one-line message, naming the place."""
        file = printable(file)
        place = f"{file}, line {self.line}" if self.line else file
        found = f" = {self.found}" if self.found else ""
        return f"{place}: {self.key}{found}: {self.remedy}"


class DaylatchError(Exception):
    """Trouble that a keeper can understand and mend; its text is the whole message.

    Parameters
    ----------
    *lines : str
        The message. A line break within one of them is not ours, and is not printed as one.
    """

    exit_status: ClassVar[int] = 2

    def __init__(self, *lines: str) -> None:
        self.lines = lines
        super().__init__("\n".join(lines))


class UsageError(DaylatchError):
    """A command was given something that it cannot take."""


class SiteError(DaylatchError):
    """A site file that cannot be used; carries every problem found in it."""

    exit_status = 3

    def __init__(self, file: str, problems: list[Problem]) -> None:
        self.file = file
        self.problems = problems
        super().__init__(*(problem.sentence(file) for problem in problems))


class PlanError(DaylatchError):
    """Settings or dates for which no plan can be made."""

    exit_status = 4


class SecondOpinionError(DaylatchError):
    """The independent computation of the Sun disagrees, so the plan is not to be trusted."""

    exit_status = 5


class OutputError(DaylatchError):
    """A file that cannot or must not be written."""

    exit_status = 6


class CalendarServerError(DaylatchError):
    """A calendar server that cannot be reached, refuses, or answers what it should not."""

    exit_status = 7


class DiaryError(DaylatchError):
    """A diary that cannot be read, or that takes nothing; what is in it stays as it is."""

    exit_status = 9


class NoDiaryError(DiaryError):
    """There is no diary yet."""


class SecretsError(DaylatchError):
    """A file of secrets that cannot be used; no secret ever stands in its text."""

    exit_status = 3


class HomeError(DaylatchError):
    """A home that cannot be opened: a port in use, a house that is watched already."""

    exit_status = 12


class ClusterError(DaylatchError):
    """Workers that cannot be reached, are of another version, or are all gone."""

    exit_status = 14


class StoppedError(DaylatchError):
    """Work that the keeper interrupted; its text says how far it came."""

    exit_status = 130
