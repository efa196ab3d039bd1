"""From the rows of a table to sites: what a row sets, a site file for all, and the place itself.

What neither sets is as `daylatch new` would write it for the place.
"""

from __future__ import annotations

import copy
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

from daylatch.clock import country_of
from daylatch.errors import PlanError, SiteError, UsageError
from daylatch.many.keys import is_given, settings_of
from daylatch.many.roster import house_id
from daylatch.plan.block import clock_group
from daylatch.plan.short_nights import (
    LEAST_NIGHT_H,
    Remedy,
    find_short_nights,
    has_long_nights,
    years_ahead,
)
from daylatch.site.messages import show_value
from daylatch.site.norms import Norms
from daylatch.site.reading.site_file import change_settings, problems_of_place, read_data
from daylatch.site.table import TEXT_LIMITS
from daylatch.site.tables import Head, Place, Site, SiteFile, ZoneSource
from daylatch.site.values.customs import customs_of
from daylatch.site.writing import Writing

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Hashable, Iterator, Mapping, Sequence

    from daylatch.errors import Problem
    from daylatch.plan.short_nights import ShortNights

_NIGHTS_AT_ONCE = 32
"""Sites whose nights are looked at together: five years of more of them leave a core's cache."""
_OWN = {"id", "name", "place"}
"""What each house has of its own, and none has from a file for all."""
_ANY_ID = "00000000-0000-4000-8000-000000000000"
_LIMITS = (("open", "not_before"), ("close", "not_after"))


class HouseRow(NamedTuple):
    """A row of a table, as it comes to whoever plans it.

    Attributes
    ----------
    id : str
        What the table calls the house.
    latitude_deg, longitude_deg : float
        North and east positive.
    zone : str
        IANA name.
    settings : tuple
        Its cells, an element for each of the columns that are keys.
    """

    id: str
    latitude_deg: float
    longitude_deg: float
    zone: str
    settings: tuple[Any, ...]


class Refusal(NamedTuple):
    """Why there is no plan of a house: a row's place in the work, and every reason."""

    row: int
    reasons: tuple[str, ...]


class _Pattern(NamedTuple):
    """What houses with the same settings share: a site, its tables and keys that are given."""

    site: Site
    tables: frozenset[str]
    given: frozenset[str]


class HouseMaker:
    """Makes sites of rows.

    Parameters
    ----------
    like
        The data of a site file for all rows, as TOML has it; without any, nothing.
    keys
        The columns that are keys of the site file.
    first
        The first date of the plans: from which on nights are looked at.
    """

    def __init__(self, like: dict[str, Any], keys: Sequence[str], first: dt.date) -> None:
        self._like = {key: value for key, value in like.items() if key not in _OWN}
        # A file that is in the door is in that of one house.
        self._like["door"] = {**like.get("door", {})}
        self._like["door"].pop("in_use", None)
        self._keys = tuple(keys)
        self._first = first
        self._patterns: dict[tuple[Any, ...], _Pattern] = {}
        self._wrong: dict[tuple[Any, ...], tuple[str, ...]] = {}
        self._tables: dict[tuple[Any, ...], Any] = {}
        self.added = 0
        """How many sites got what `daylatch new` writes of short nights."""

    def sites(self, rows: Sequence[HouseRow]) -> tuple[list[tuple[int, Site]], list[Refusal]]:
        """Return the site of each row with the row's number, and why others have none."""
        found: list[tuple[int, Site, frozenset[str]]] = []
        refused = []
        for number, row in enumerate(rows):
            pattern = self._pattern(row)
            if isinstance(pattern, _Pattern):
                found.append((number, self._at(row, pattern), pattern.given))
            else:
                refused.append(Refusal(number, pattern))
        made = []
        for number, plain, nights, given in self._with_nights(found):
            site = plain if nights is None else self._like_new(plain, nights, given)
            self.added += site is not plain
            problems = _contradictions(site)
            if problems:
                refused.append(Refusal(number, tuple(map(_words, problems))))
            else:
                made.append((number, site))
        return made, refused

    def _pattern(self, row: HouseRow) -> _Pattern | tuple[str, ...]:
        """Return what houses with the settings of a row share, or what is wrong with these."""
        # 1, 1.0 and true are equal, and not the same.
        kind = (*row.settings, *map(type, row.settings))
        known = self._patterns.get(kind)
        if known is not None:
            return known
        # What is wrong with it may hang on the place.
        here = (kind, row.zone, round(row.longitude_deg))
        if here not in self._wrong:
            try:
                found = self._read(row)
            except SiteError as error:
                cells = dict(zip(self._keys, row.settings, strict=True))
                found = tuple(_words(one, cells) for one in error.problems)
            if isinstance(found, _Pattern):
                self._patterns[kind] = found
                return found
            self._wrong[here] = found
        return self._wrong[here]

    def _read(self, row: HouseRow) -> _Pattern | tuple[str, ...]:
        data = copy.deepcopy(self._like)
        try:
            change_settings(data, settings_of(self._keys, row.settings))
        except UsageError as error:
            return error.lines
        given = {
            f"{table}.{key}"
            for table, keys in data.items()
            if isinstance(keys, dict)
            for key in keys
        }
        if "name" in data:
            given.add("name")
        data.setdefault("name", "house")
        data |= {
            "id": _ANY_ID,
            "place": {
                "latitude": row.latitude_deg,
                "longitude": row.longitude_deg,
                "zone": row.zone,
            },
        }
        tables = frozenset(data)
        return _Pattern(read_data(data, "row"), tables, frozenset(given))

    def _at(self, row: HouseRow, pattern: _Pattern) -> Site:
        """Return the site of a row."""
        shared = pattern.site.settings
        name = shared.head.name if "name" in pattern.given else row.id[: TEXT_LIMITS["name"]]
        writing, norms = _customs_at(row.zone)
        own = {
            "head": Head.model_construct(id=house_id(row.id), name=name, notes=shared.head.notes),
            "place": Place.model_construct(
                latitude=row.latitude_deg, longitude=row.longitude_deg, zone=row.zone
            ),
        }
        if writing is not None and "writing" not in pattern.tables:
            own["writing"] = writing
        if norms is not None and "norms" not in pattern.tables:
            own["norms"] = norms
        # `dataclasses.replace` takes five times as long.
        settings = SiteFile(**(vars(shared) | own))
        return Site(
            row.id,
            settings,
            row.latitude_deg,
            row.longitude_deg,
            "",
            row.zone,
            ZoneSource.FILE,
        )

    def _with_nights(
        self, found: Sequence[tuple[int, Site, frozenset[str]]]
    ) -> Iterator[tuple[int, Site, ShortNights | None, frozenset[str]]]:
        """Yield each site with its short nights, where it may have some and may lack a remedy."""
        groups: dict[Hashable, list[tuple[int, Site, frozenset[str]]]] = {}
        last = years_ahead(self._first)
        for number, site, given in found:
            if has_long_nights(site.latitude_deg) or _is_remedied(given):
                yield number, site, None, given
            else:
                key = clock_group(site.zone, self._first, last)
                groups.setdefault(key, []).append((number, site, given))
        for group in groups.values():
            group.sort(key=lambda one: one[1].latitude_deg)
            for begin in range(0, len(group), _NIGHTS_AT_ONCE):
                some = group[begin : begin + _NIGHTS_AT_ONCE]
                nights = _nights_of([site for _, site, _ in some], self._first)
                for (number, site, given), own in zip(some, nights, strict=True):
                    yield number, site, own, given

    def _like_new(self, site: Site, nights: ShortNights, given: frozenset[str]) -> Site:
        """Return a site with what `daylatch new` writes of short nights, where it sets nothing."""
        wanted: dict[str, dict[str, Any]] = {}
        if nights.remedy is Remedy.LEAST_NIGHT:
            wanted["night"] = {"least_h": float(LEAST_NIGHT_H)}
        elif nights.remedy is Remedy.LIMITS:
            times = {"open": nights.open, "close": nights.close}
            for table, limit in _LIMITS:
                wanted[table] = {"fallback": times[table], limit: times[table]}
        tables = {}
        for table, keys in wanted.items():
            lacking = {key: value for key, value in keys.items() if f"{table}.{key}" not in given}
            if lacking:
                tables[table] = self._shared(getattr(site.settings, table), lacking)
        return replace(site, settings=replace(site.settings, **tables)) if tables else site

    def _shared(self, table: Any, lacking: dict[str, Any]) -> Any:
        """Return a table with further keys, the same one for all houses that share both."""
        key = (id(table), *lacking.items())
        if key not in self._tables:
            # The table itself is kept too, so that no other one gets its number.
            self._tables[key] = (table.model_copy(update=lacking), table)
        return self._tables[key][0]


def _is_remedied(given: frozenset[str]) -> bool:
    """Return whether all that short nights could ask for is given."""
    return "night.least_h" in given and all(
        f"{table}.{key}" in given for table, limit in _LIMITS for key in ("fallback", limit)
    )


def _nights_of(sites: Sequence[Site], first: dt.date) -> list[ShortNights | None]:
    """Return the short nights of sites whose clocks go alike; none where no plan can be made."""
    try:
        return list(find_short_nights(sites, first))
    except PlanError:
        if len(sites) == 1:
            return [None]
        return [nights for site in sites for nights in _nights_of([site], first)]


def _contradictions(site: Site) -> list[Problem]:
    """Return which limits of a site contradict each other at its place."""
    settings = site.settings
    both = any(
        side.not_before is not None and side.not_after is not None
        for side in (settings.open, settings.close)
    )
    if not both and not settings.spans:
        return []
    return problems_of_place(settings, site.longitude_deg, site.zone)


def _words(problem: Problem, cells: Mapping[str, Any] | None = None) -> str:
    """Return what is wrong with a key; of a cell as it stands in the table."""
    found, remedy = problem.found, problem.remedy
    cell = (cells or {}).get(problem.key)
    if is_given(cell):
        # In a table nothing is in quotes.
        found, remedy = show_value(cell), remedy.replace(" in quotes", "").replace('"', "")
    return f"{problem.key}{f' = {found}' if found else ''}: {remedy}"


@lru_cache(maxsize=1024)
def _customs_at(zone: str) -> tuple[Writing | None, Norms | None]:
    """Return how people write where a zone is, and their norms, as `daylatch new` has them."""
    customs = customs_of(country_of(zone))
    return (
        Writing.model_validate(dict(customs.writing)) if customs.writing else None,
        Norms.model_validate(dict(customs.norms)) if customs.norms else None,
    )
