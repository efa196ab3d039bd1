"""Reading a site file: every slip in it at once, each with its line and its remedy."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from pydantic import BaseModel, ValidationError

from daylatch.clock import UnknownZoneError, get_zone, zone_at, zone_names
from daylatch.errors import Problem, SiteError, UsageError
from daylatch.site.keys.learned import learned_from
from daylatch.site.keys.lines import lines_of_keys
from daylatch.site.keys.unknown import unknown_key
from daylatch.site.messages import (
    LISTS_OF_TABLES,
    KeyPath,
    key_name,
    keys_around,
    remedy_for,
    show_value,
    suggest,
    toml_problem,
)
from daylatch.site.reading.old_keys import move_old_keys
from daylatch.site.reading.slips import likely_slips, minutes_near, nominal_minutes
from daylatch.site.table import MOST_HOURS
from daylatch.site.tables import (
    SETTING_TABLES,
    TABLES,
    Head,
    Place,
    Site,
    SiteFile,
    Span,
    ZoneSource,
    table_model,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from daylatch.site.keys.learned import LearnedFrom

LARGEST_BYTES = 256 * 1024
_NEAR_SECRETS = ("sync", "home", "mqtt", "watch")
"""Tables to which a secret belongs, which does not stand in the site file."""
_LONGEST_SHOWN = 60

_NEEDED: dict[type[BaseModel], set[str | int]] = {
    Head: {"id", "name"},
    Place: {"latitude", "longitude", "city"},
    Span: {"from", "until"},
}


def load_site(path: str | Path, changes: Sequence[str] = ()) -> Site:
    """Read a site file.

    Parameters
    ----------
    path
        A TOML file; ``docs/reference/site-file.md`` names every key.
    changes
        Settings to change after reading, as ``key=value``: see `change_settings`.

    Returns
    -------
    Site
        With likely slips in its ``warnings``.

    Raises
    ------
    SiteError
        With every problem in the file.
    """
    file = str(path)
    try:
        with Path(path).open("rb") as stream:
            # Not all of it, since a device may have no end.
            raw = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        remedy = f"cannot be read ({why}): name a site file, or write one with `daylatch new`"
        raise SiteError(file, [Problem("site file", "", remedy)]) from error
    if len(raw) > LARGEST_BYTES:
        remedy = f"is over {LARGEST_BYTES} bytes, which no site file needs: name another file"
        raise SiteError(file, [Problem("size", "", remedy)])
    try:
        text = raw.decode()
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise SiteError(file, [Problem("text", "", "save the file as UTF-8", line)]) from error
    site = read_site(text.removeprefix("\ufeff"), file, changes)
    return replace(site, folder=str(Path(path).parent))


def load_data(path: Path) -> dict[str, Any]:
    """Return what TOML makes of a site file that `load_site` takes, by the keys of today."""
    data = tomllib.loads(path.read_text("utf-8-sig"))
    move_old_keys(data)
    return data


def read_site(text: str, file: str, changes: Sequence[str] = ()) -> Site:
    """Read the text of a site file; ``file`` is its name in messages, ``changes`` as `load_site`.

    Raises
    ------
    SiteError
        With every problem in the text.
    """
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise SiteError(file, [toml_problem(error, text)]) from error
    if changes:
        # The lines of the file do not hold what is changed, so messages name the changes instead.
        change_settings(data, changes)
        text, file = "", f"{file} with {' '.join(map(_shortened, changes))}"
    try:
        return _Reader(text, file).site(data)
    except RecursionError as error:
        raise SiteError(file, [toml_problem(error, text)]) from error


def read_data(data: dict[str, Any], file: str) -> Site:
    """Read what TOML would make of a site file, without its text; changes the data.

    Raises
    ------
    SiteError
        With every problem in it.
    """
    return _Reader("", file).site(data)


def problems_of_place(settings: SiteFile, longitude_deg: float, zone: str) -> list[Problem]:
    """Return which of a site's settings fit no day at its place, though they may at another."""
    reader = _Reader("", "")
    reader.contradictions(settings, settings.spans, nominal_minutes(longitude_deg, get_zone(zone)))
    return [problem for _, problem in reader.problems]


def learned_lights(site: Site) -> dict[str, LearnedFrom]:
    """Return where a site's file says that its lights were learned, by their tables."""
    try:
        text = Path(site.file_name).read_text("utf-8-sig")
        keys = lines_of_keys(text)
    except (OSError, ValueError):
        return {}
    lines, found = text.split("\n"), {}
    for table in ("open", "close"):
        number = keys.get((table, "light"))
        learned = None if number in {None, 1} else learned_from(lines[number - 2])
        if learned is not None:
            found[table] = learned
    return found


def line_of_key(site: Site, path: KeyPath) -> int | None:
    """Return at which line of a site's file a key stands; None if that cannot be looked up."""
    try:
        return lines_of_keys(Path(site.file_name).read_text("utf-8-sig")).get(path)
    except (OSError, ValueError):
        return None


def change_settings(data: dict[str, Any], changes: Sequence[str]) -> None:
    """Change a site file's data in place.

    Parameters
    ----------
    data
        As TOML reads it.
    changes
        Each ``key=value``: a dotted key (``close.offset_min``, and ``span.2.shut`` for a key of
        the second span) and a value as TOML has it; one that is no TOML is taken as text.

    Raises
    ------
    UsageError
        Naming the change that cannot be made.
    """
    for change in changes:
        key, equals, value = change.partition("=")
        given = f'--with is "{_shortened(change)}"'
        parts = [part.strip() for part in key.split(".")]
        if not equals or not all(parts):
            raise UsageError(f"{given}: write KEY=VALUE, like close.offset_min=35")
        table: Any = data
        for depth, part in enumerate(parts):
            last = depth == len(parts) - 1
            if isinstance(table, list):
                # No file has a million spans, and Python refuses to read very long numbers.
                if not re.fullmatch("[0-9]{1,6}", part) or not 1 <= int(part) <= len(table):
                    raise UsageError(
                        f"{given}: the file has {len(table)} of {'.'.join(parts[:depth])}; number "
                        "them from 1, like span.1.shut=false"
                    )
                if last:
                    raise UsageError(f"{given}: add a key of it, like span.1.shut=false")
                table = table[int(part) - 1]
            elif not isinstance(table, dict):
                raise UsageError(f"{given}: {'.'.join(parts[:depth])} is not a table")
            elif last:
                table[part] = _toml_value(value)
            else:
                table = table.setdefault(
                    part, [] if tuple(parts[: depth + 1]) in LISTS_OF_TABLES else {}
                )


def _shortened(change: str) -> str:
    return change if len(change) <= _LONGEST_SHOWN else change[: _LONGEST_SHOWN - 3] + "..."


def _toml_value(text: str) -> Any:
    try:
        data = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):
        return text.strip()
    # A text with line breaks could hold further keys.
    return data["value"] if list(data) == ["value"] else text.strip()


class _Where(NamedTuple):
    """The part of a `Site` that says where it is."""

    latitude_deg: float
    longitude_deg: float
    place_name: str
    zone: str
    zone_source: ZoneSource


class _Reader:
    """Gathers what is wrong while a file is read."""

    def __init__(self, text: str, file: str) -> None:
        self.text = text
        self.file = file
        self.problems: list[tuple[KeyPath, Problem]] = []
        self._lines: dict[KeyPath, int] | None = None

    def line(self, path: KeyPath) -> int | None:
        """Return where a key stands, or the closest table around it that stands anywhere."""
        if self._lines is None:
            self._lines = lines_of_keys(self.text)
        while path:
            if path in self._lines:
                return self._lines[path]
            path = path[:-1]
        return None

    def add(self, path: KeyPath, found: str, remedy: str) -> None:
        """Note a problem with a key."""
        if path[0] in _NEAR_SECRETS:
            from daylatch.site.values.web_address import hide_login  # noqa: PLC0415 - for these only

            # Somebody may have put a login there.
            known = path[-1] in table_model(str(path[0])).model_fields
            found = hide_login(found) if known else ""
        problem = Problem(key_name(path), found, remedy, self.line(path))
        # What is looked at twice is told once.
        if (path, problem) not in self.problems:
            self.problems.append((path, problem))

    def site(self, data: dict[str, Any]) -> Site:
        """Return the site, or raise everything that is wrong."""
        old_keys = move_old_keys(data)
        for path, found, remedy, holds in old_keys:
            if not holds:
                self.add(path, found, remedy)
        parts: dict[str, Any] = {}
        top = {key: value for key, value in data.items() if key in Head.model_fields}
        parts["head"] = self.model(Head, top, ())
        for key, value in data.items():
            if key in TABLES:
                # An empty table says nothing.
                parts[key] = self.table(key, value) if value != {} or key == "place" else None
            elif key == "span":
                parts["spans"] = self.spans(value)
            elif key not in Head.model_fields:
                self.add(
                    (key,),
                    show_value(value),
                    unknown_key(key, [*Head.model_fields, *TABLES, "span"]),
                )
        if "place" not in data:
            self.add(("place",), "", "is missing: add [place] with latitude and longitude")
        # What failed gets its defaults here, so that the rest can be looked at in the same run.
        settings = SiteFile(
            **{"head": None, "place": None}
            | {key: value for key, value in parts.items() if value is not None}
        )
        where = self.where(settings.place) if settings.place else None
        if where is None and isinstance(data.get("place"), dict):
            self.zone_exists(data["place"].get("zone"))
        noon = nominal_minutes(where.longitude_deg, get_zone(where.zone)) if where else 720
        self.contradictions(settings, parts.get("spans", ()), noon)
        self.two_sitters(parts.get("spans", ()))
        if self.problems or where is None:
            raise SiteError(self.file, sorted((p for _, p in self.problems), key=_by_line))
        slips = likely_slips(
            settings, where.latitude_deg, where.longitude_deg, where.zone, where.zone_source
        )
        told = [*((path, found, remedy) for path, found, remedy, _ in old_keys), *slips]
        warnings = tuple(
            Problem(key_name(path), found, remedy, self.line(path)) for path, found, remedy in told
        )
        return Site(self.file, settings, *where, warnings)

    def table(self, key: str, value: Any) -> BaseModel | None:
        """Return one table as its model."""
        if not isinstance(value, dict):
            self.add((key,), show_value(value), f"is a table: write [{key}] with keys below it")
            return None
        table: BaseModel | None = self.model(table_model(key), value, (key,))
        return table

    def spans(self, value: Any) -> tuple[Span | None, ...]:
        """Return the dated spans."""
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.add(("span",), show_value(value), "is a list of tables: write [[span]] for each")
            return ()
        return tuple(self.model(Span, item, ("span", i)) for i, item in enumerate(value))

    def model(self, model: type[BaseModel], value: dict[str, Any], path: KeyPath) -> Any:
        """Return a validated table, or note what is wrong with it."""
        try:
            return model.model_validate(value)
        except ValidationError as error:
            for detail in error.errors(include_url=False, include_context=True):
                where = (*path, *detail["loc"])
                found = "" if detail["type"] == "missing" else show_value(detail["input"])
                if isinstance(detail["input"], dict) and detail["type"] == "value_error":
                    found = ""
                self.add(where, found, remedy_for(detail, keys_around(model, detail["loc"])))
            # Rules between keys are only asked once each key is good: ask them of the good ones,
            # unless one is gone that would then be missed for no fault of the keeper.
            bad = [detail["loc"] for detail in error.errors()]
            rest = _without(value, bad)
            if rest == value or not _NEEDED.get(model, set()).isdisjoint(p[0] for p in bad if p):
                return None
            return self.model(model, rest, path)

    def where(self, place: Place) -> _Where | None:
        """Return where the site's place is, or note why that is not known."""
        latitude, longitude, city, zone = place.latitude, place.longitude, "", place.zone
        source = ZoneSource.FILE
        if place.city is not None:
            # The list of cities takes 0.3 s to read.
            from daylatch.site.choices.cities import CityError, find_city  # noqa: PLC0415

            try:
                found = find_city(place.city)
            except CityError as error:
                self.add(("place", "city"), show_value(place.city), str(error))
                return None
            latitude, longitude, city = found.latitude_deg, found.longitude_deg, found.label
            if zone is None:
                zone, source = found.zone, ZoneSource.CITY
        assert latitude is not None
        assert longitude is not None
        if zone is None:
            zone, source = zone_at(latitude, longitude), ZoneSource.COORDINATES
        if zone is None:
            self.add(("place",), "", 'no time zone is known there: add zone = "Area/City"')
            return None
        if not self.zone_exists(zone):
            return None
        return _Where(latitude, longitude, city, zone, source)

    def zone_exists(self, zone: Any) -> bool:
        """Return whether there is such a zone; note it if not."""
        if not isinstance(zone, str):
            return False
        try:
            get_zone(zone)
        except UnknownZoneError:
            remedy = suggest(zone, zone_names()) or (
                "; write one like Europe/Oslo, or leave it out to have it found"
            )
            self.add(("place", "zone"), show_value(zone), f"no such zone{remedy}")
            return False
        return True

    def contradictions(
        self, settings: SiteFile, spans: Sequence[Span | None], noon_minutes: int
    ) -> None:
        """Note settings that fit no day at all: alone, and as each good span changes them."""
        base: dict[str, Any] = {
            f"{table}.{key}": getattr(getattr(settings, table), key)
            for table in SETTING_TABLES
            for key in type(getattr(settings, table)).model_fields
        }
        self.contradiction(base, set(base), (), noon_minutes)
        for number, span in enumerate(spans):
            changes = dict(span.changes()) if span is not None else {}
            self.contradiction({**base, **changes}, set(changes), ("span", number), noon_minutes)

    def two_sitters(self, spans: Sequence[Span | None]) -> None:
        """Note dates on which two spans say that the keeper is away: who would look after it?"""
        away = [(number, span) for number, span in enumerate(spans) if span and span.away]
        for at, (number, span) in enumerate(away):
            for earlier, other in away[:at]:
                if span.touches(other.first, other.last):
                    self.add(
                        ("span", number, "from"),
                        str(span.first),
                        f"you are away until {span.last}, and by span {earlier + 1} from "
                        f"{other.dates_text}: let one end before the other begins",
                    )

    def contradiction(
        self, values: dict[str, Any], given: set[str], path: KeyPath, noon_minutes: int
    ) -> None:
        """Note what contradicts itself among the values in force, if ``given`` has a part in it."""
        for side, middle in (("open", noon_minutes - 360), ("close", noon_minutes + 360)):
            early, late = values[f"{side}.not_before"], values[f"{side}.not_after"]
            if (
                early is None
                or late is None
                or not given & {f"{side}.not_before", f"{side}.not_after"}
            ):
                continue
            if minutes_near(early, middle) > minutes_near(late, middle):
                self.add(
                    (*path, side, "not_before"),
                    f'"{early}"',
                    f'lies after {side}.not_after = "{late}": swap them or drop one',
                )
        least = values["day.least_open_h"] + values["night.least_h"]
        if least > MOST_HOURS + 1e-9 and given & {"day.least_open_h", "night.least_h"}:
            key = ("night", "least_h") if "night.least_h" in given else ("day", "least_open_h")
            self.add(
                (*path, *key),
                show_value(values[".".join(key)]),
                f"day.least_open_h and night.least_h ask for {least:g} h together: "
                "keep them within 23 h 58 min",
            )


def _without(value: dict[str, Any], paths: list[KeyPath]) -> dict[str, Any]:
    """Return a table without the keys at these paths."""
    rest: dict[Any, Any] = dict(value)
    for key in {path[0] for path in paths if path}:
        inner = [path[1:] for path in paths if path[:1] == (key,)]
        if isinstance(rest.get(key), dict) and all(inner):
            rest[key] = _without(rest[key], inner)
        else:
            rest.pop(key, None)
    return rest


def _by_line(problem: Problem) -> int:
    return problem.line or 0
