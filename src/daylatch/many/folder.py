"""The folder of a dataset: what is finished in it, and what is put there.

A part is finished when both of its files stand under their own names and carry its digest; each is
put in place whole. So a run that was killed leaves nothing that counts, and the same command goes
on where it was.

```
manifest.json          what it was made from, and whether it is complete
rejected.csv           rows without a plan, if there are any
warnings.csv           houses to look at, if there are any
houses/PART.parquet    a row a house
times/PART.parquet     a row a house and day; or summary/PART.parquet, a row a house
```
"""

from __future__ import annotations

import contextlib
import json
from typing import TYPE_CHECKING, Any

from filelock import FileLock, Timeout

import daylatch
from daylatch.cautions import CAUTION
from daylatch.console import printable
from daylatch.errors import OutputError
from daylatch.files.csv_file import defuse, lay_out_plain
from daylatch.files.own import generator_is
from daylatch.files.parts import clear_left_overs, is_part
from daylatch.files.put import put
from daylatch.many.checked import SAMPLED_OF, SEED
from daylatch.many.dataset import as_csv, content_mark, is_whole, read_about
from daylatch.many.parts import PART_NAME

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from daylatch.many.parts import Part, Task
    from daylatch.many.rows import BadRow
    from daylatch.many.work import Counts, Made

MANIFEST, REJECTED, WARNINGS, LOCK = "manifest.json", "rejected.csv", "warnings.csv", ".lock"
SUMMARY_CSV = "summary.csv"
HOUSES, TIMES, SUMMARY = "houses", "times", "summary"
_OURS = {MANIFEST, REJECTED, WARNINGS, SUMMARY_CSV, LOCK, HOUSES, TIMES, SUMMARY}
_GENERATOR = "daylatch many"
wrote_manifest = generator_is(_GENERATOR)
_HEADER = ("line", "site")
_WHAT = {REJECTED: "reason", WARNINGS: "warning"}


class Folder:
    """The folder of a dataset, held by one run at a time: `hold`.

    Parameters
    ----------
    path
        Where it is.
    task
        What its plans are of.
    like
        The name of the site file for all rows, if there is one.
    """

    def __init__(self, path: Path, task: Task, like: str | None) -> None:
        self.path = path
        self._task = task
        self._like = like
        self._rows = path / (SUMMARY if task.summary else TIMES)
        self._houses = path / HOUSES

    @contextlib.contextmanager
    def hold(self) -> Iterator[None]:
        """Make the folder, and keep other runs out while this one works.

        Raises
        ------
        OutputError
            If it holds something else, or another run works in it.
        """
        self._refuse_others()
        try:
            for folder in (self._rows, self._houses):
                folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OutputError(f"{self.path}: cannot be made: {error.strerror}") from error
        lock = FileLock(self.path / LOCK)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            raise OutputError(
                f"{self.path}: another run works in this folder: wait for it, or choose another"
            ) from None
        except OSError as error:
            raise OutputError(f"{self.path}: cannot be written: {error.strerror}") from error
        try:
            yield
        finally:
            lock.release()

    def _refuse_others(self) -> None:
        """Refuse a folder that holds anything but a dataset of the same dates and kind."""
        try:
            names = {entry.name for entry in self.path.iterdir()}
        except FileNotFoundError:
            return
        except OSError as error:
            raise OutputError(f"{self.path}: cannot be used: {error.strerror}") from error
        foreign = sorted(name for name in names - _OURS if not is_part(name))
        if foreign:
            raise OutputError(
                f"{self.path}: holds something else ({foreign[0]}), so it is left as it is: choose "
                "a new or empty folder"
            )
        if MANIFEST not in names:
            # What a run leaves that was stopped at its very beginning is no trouble.
            begun = {
                name for name in names & {HOUSES, TIMES, SUMMARY} if _is_empty(self.path / name)
            }
            if names - begun - {LOCK}:
                raise OutputError(
                    f"{self.path}: holds files without a {MANIFEST} of daylatch: choose a new or "
                    "empty folder"
                )
            return
        found = self._manifest()
        here = self._what()
        if found != here:
            raise OutputError(
                f"{self.path}: holds {_told(found)}, and this run makes {_told(here)}: choose "
                "another folder"
            )

    def _manifest(self) -> dict[str, Any]:
        content = read_whole(self.path / MANIFEST)
        if not wrote_manifest(content):
            raise OutputError(
                f"{self.path}: its {MANIFEST} is none of daylatch's: choose a new or empty folder"
            )
        data = json.loads(content)
        return {key: data.get(key) for key in self._what()}

    def _what(self) -> dict[str, Any]:
        return {
            "first_date": str(self._task.first),
            "last_date": str(self._task.last),
            "rows": SUMMARY if self._task.summary else TIMES,
            "like": self._like,
        }

    def houses_before(self) -> int:
        """Return how many houses the folder has, as its manifest says."""
        file = self.path / MANIFEST
        return int(json.loads(read_whole(file))["houses"]) if file.exists() else 0

    def finished(self, parts: Sequence[Part]) -> dict[str, dict[str, Any]]:
        """Return what is told of each finished part.

        Raises
        ------
        OutputError
            If something else stands among the parts.
        """
        digests = {f"{part.name}.parquet": part.digest for part in parts}
        found: dict[str, dict[str, Any]] = {}
        self._refuse_foreign()
        for name, digest in digests.items():
            about = read_about(self._rows / name)
            beside = read_about(self._houses / name)
            if not about or not beside or not about["digest"] == beside["digest"] == digest:
                continue
            # Disks forget, too.
            mark = content_mark(read_whole(self._rows / name))
            if mark == beside["rows"] and is_whole(self._houses / name):
                found[name] = about
        return {name.removesuffix(".parquet"): about for name, about in found.items()}

    def keep_only(self, finished: Collection[str]) -> None:
        """Take away the files of all parts but these, and what is half written.

        Raises
        ------
        OutputError
            If something cannot be taken away.
        """
        for folder in (self._rows, self._houses):
            clear_left_overs(folder)
            for file in folder.iterdir():
                if file.name.removesuffix(".parquet") not in finished:
                    _take_away(file)

    def _refuse_foreign(self) -> None:
        for folder in (self._rows, self._houses):
            for file in folder.iterdir():
                is_finished = PART_NAME.fullmatch(file.name.removesuffix(".parquet")) is not None
                if not (is_finished or is_part(file.name)) or file.is_dir():
                    raise OutputError(
                        f"{file}: is no file of a dataset, so nothing is changed: move it away"
                    )

    def put_part(self, part: Part, made: Made) -> None:
        """Put the files of a part in place; the one that counts last.

        Raises
        ------
        OutputError
            If they cannot be written.
        """
        put(self._houses / f"{part.name}.parquet", made.houses)
        put(self._rows / f"{part.name}.parquet", made.times)

    def put_told(self, name: str, rows: Iterable[BadRow]) -> None:
        """Write what is told of rows of the table, a line a reason; no file without any.

        Parameters
        ----------
        name
            `REJECTED` or `WARNINGS`.
        rows
            In the order of their lines.

        Raises
        ------
        OutputError
            If it cannot be written.
        """
        lines = [
            (row.line, defuse(_printable(row.id)), defuse(_printable(reason)))
            for row in rows
            for reason in row.reasons
        ]
        file = self.path / name
        if lines:
            put(file, lay_out_plain((*_HEADER, _WHAT[name]), lines))
        elif file.exists():
            _take_away(file)

    def put_summary_csv(self) -> None:
        """Write a summary as one CSV file too, for spreadsheets.

        Raises
        ------
        OutputError
            If it cannot be written.
        """
        put(self.path / SUMMARY_CSV, as_csv(sorted(self._rows.iterdir())))

    def put_manifest(
        self,
        parts: Mapping[str, Mapping[str, Any]],
        counts: Counts,
        told: Mapping[str, Any],
        *,
        complete: bool,
    ) -> None:
        """Write what the dataset is.

        Parameters
        ----------
        parts
            What is told of each finished part.
        counts
            What came of them together.
        told
            What else is said, such as the files it was made from.
        complete
            Whether all parts are there.

        Raises
        ------
        OutputError
            If it cannot be written.
        """
        program, zone_rules = self._task.versions
        data = {
            "generator": {"name": _GENERATOR, "version": daylatch.__version__},
            "complete": complete,
            **self._what(),
            "times_are": "planned",
            "program": program,
            "zone_rules": zone_rules,
            **told,
            "houses": counts.houses,
            "days": counts.days,
            "houses_that_close_in_daylight": counts.in_daylight,
            "second_opinion": {
                "events_checked_on_arrays": counts.events,
                "sides_of_days_it_could_not_judge": counts.unsure,
                "events_checked_by_astral": counts.by_astral,
                "sample": f"the most polar house of each part, and 1 of {SAMPLED_OF}",
                "seed": SEED,
            },
            "parts": [
                {"name": name, "digest": about["digest"], "houses": about["counts"]["houses"]}
                for name, about in sorted(parts.items())
            ],
            "caution": CAUTION,
        }
        put(self.path / MANIFEST, json.dumps(data, ensure_ascii=False, indent=2).encode() + b"\n")


def read_whole(path: Path) -> bytes:
    """Return a file.

    Raises
    ------
    OutputError
        If it cannot be read.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise OutputError(f"{path}: cannot be read: {error.strerror}") from error


def _told(what: Mapping[str, Any]) -> str:
    kind = "a summary" if what["rows"] == SUMMARY else "the times"
    like = f"with --like {what['like']}" if what["like"] else "without --like"
    return f"{kind} of {what['first_date']} to {what['last_date']} {like}"


def _is_empty(folder: Path) -> bool:
    return folder.is_dir() and not any(folder.iterdir())


def _take_away(file: Path) -> None:
    try:
        file.unlink()
    except OSError as error:
        raise OutputError(f"{file}: cannot be taken away: {error.strerror}") from error


def _printable(text: str) -> str:
    """Return a text without what no file of text can hold, or what nobody sees."""
    return printable(text.encode(errors="replace").decode())
