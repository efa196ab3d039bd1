"""What is said to who is refused."""

from __future__ import annotations


class RefusedError(Exception):
    """A door that is refused; its text is what the door is told.

    Parameters
    ----------
    status
        Of the answer.
    words
        Why, without anything of this computer.
    headers
        That go with it.
    why
        The same for the log, where there is more to say.
    """

    def __init__(
        self, status: int, words: str, headers: dict[str, str] | None = None, why: str = ""
    ) -> None:
        super().__init__(words)
        self.status = status
        self.headers = headers
        self.why = why or words
