"""What the web server asks a house for: its page, its taps and its papers."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol

if TYPE_CHECKING:
    from collections.abc import Mapping

    from daylatch.diary.store.store import Tapped
    from daylatch.home.page.page import Notice, Reader
    from daylatch.home.page.taps import Tap


class File(NamedTuple):
    """A paper or a file of a house.

    Attributes
    ----------
    content : bytes
        What is in it.
    media_type : str
        What that is.
    name : str
        What it is saved as; empty for what is shown.
    """

    content: bytes
    media_type: str
    name: str = ""


class Pages(Protocol):
    """The page of one house, and what belongs to it."""

    def page(self, reader: Reader, notice: Notice | None = None) -> bytes:
        """Return the page as it is now."""

    def line(self) -> str:
        """Return how the house is, in a few words."""

    def notice_of(self, number: int) -> Notice | None:
        """Return what is said of an entry that was just tapped, or undone; None if none was."""

    def read(self, fields: Mapping[str, str], by: str) -> Tap:
        """Return the tap that a form holds, at this instant.

        Raises
        ------
        TapError
            If it holds none.
        """

    def words(self, tap: Tap) -> str:
        """Return what a tap says, with its moment."""

    def note(self, tap: Tap) -> tuple[Tapped, str]:
        """Put a tap into the diary; return its entry and a sentence on that.

        Raises
        ------
        DiaryError
            If it could not be noted.
        """

    def undo(self, number: int) -> str:
        """Undo what was tapped; return a sentence on that.

        Raises
        ------
        DiaryError
            If it could not be undone.
        """

    def file(self, name: str) -> File | None:
        """Return a paper or file of the house; None if there is none of that name.

        Raises
        ------
        DaylatchError
            If it cannot be made.
        """
