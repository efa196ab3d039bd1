"""What nearly every command is asked for: a site file, dates, a form and where it goes."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from daylatch.commands.forms import FORMS, refusal
from daylatch.errors import UsageError

if TYPE_CHECKING:
    from pathlib import Path

    from daylatch.commands.dates import Range
    from daylatch.files.forms import Form


class Asked(NamedTuple):
    """What was typed.

    Attributes
    ----------
    path : Path
        The site file.
    wanted : Range
        The dates, as they were typed.
    to : str or None
        The name of a form; None leaves it to the file's ending.
    output : Path or None
        The file to write; None prints.
    force : bool
        Whether the keeper agreed to lose what is there.
    update : bool
        Whether a calendar keeps what is no longer planned, as cancelled.
    """

    path: Path
    wanted: Range
    to: str | None = None
    output: Path | None = None
    force: bool = False
    update: bool = False

    def form(self, command: str) -> Form:
        """Return the form that is asked for, by name or by the ending of the file.

        Raises
        ------
        UsageError
            If the command has no such form, or none that can be updated.
        """
        forms = {form.name: form for form in FORMS[command]}
        name = self.to
        if name is None:
            # A name without any ending says nothing.
            form = self._form_by_ending(command) if self._ending else FORMS[command][0]
            name = form.name
        if name not in forms:
            raise UsageError(f'--to is "{name}": write one of {", ".join(forms)}')
        form = forms[name]
        if str(self.output) == "-":
            raise UsageError("-o is -, which is no file here: leave it out to print")
        if self.update and not form.is_calendar:
            raise UsageError("--update is for calendar files: add --to ics")
        if self.update and self.output is None:
            raise UsageError("--update looks at the earlier file: name it, such as -o door.ics")
        return form

    def form_of_file(self, command: str, nameless: str) -> Form:
        """Return the form that a command which writes only files is asked for, by the ending.

        Parameters
        ----------
        command
            Whose forms there are.
        nameless
            What is said if no file is named.

        Raises
        ------
        UsageError
            If no file is named, or one with an ending that says nothing.
        """
        if self.output is None:
            raise UsageError(nameless)
        return self._form_by_ending(command)

    @property
    def _ending(self) -> str:
        """What the file's name ends in, with its dot; a name may be nothing else."""
        if self.output is None:
            return ""
        name = self.output.name
        # To the library a name that is nothing else has none.
        is_ending = name.startswith(".") and "." not in name[1:]
        return (name if is_ending else self.output.suffix).lower()

    def _form_by_ending(self, command: str) -> Form:
        ending = self._ending
        for form in FORMS[command]:
            if ending in form.endings:
                return form
        raise UsageError(f"{self.output}: {refusal(command, ending)}")
