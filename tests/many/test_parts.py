"""How the work is cut: what belongs to other houses changes nothing."""

import datetime as dt

import numpy as np
import pytest

from daylatch.many.parts import PART_SITES, Task, cut, rows_of_part, versions_here
from daylatch.many.roster import read_roster
from daylatch.many.rows import Batch, Table

FIRST, LAST = dt.date(2027, 1, 1), dt.date(2027, 12, 31)


def roster(rows, keys=()):
    names = ("id", "latitude", "longitude", *keys)
    columns = {
        name: list(cells) for name, cells in zip(names, zip(*rows, strict=True), strict=True)
    }
    batch = Batch(list(range(2, len(rows) + 2)), columns, [])
    found, bad = read_roster("club.csv", Table(names, iter([batch])))
    assert bad == []
    return found


def task(**changes):
    plain = Task(FIRST, LAST, {}, (), summary=False, versions=versions_here())
    return plain._replace(**changes)


def parts_of(rows, keys=(), **changes):
    return {part.name: part for part in cut(roster(rows, keys), task(keys=keys, **changes))}


def spread(count, seed=1):
    generator = np.random.default_rng(seed)
    latitudes = generator.uniform(48, 53, count).tolist()
    longitudes = generator.uniform(8, 13, count).tolist()
    return [
        (f"house {number}", latitude, longitude)
        for number, (latitude, longitude) in enumerate(zip(latitudes, longitudes, strict=True))
    ]


def test_houses_whose_clocks_go_alike_share_a_part():
    rows = [("a", 52.4, 13.4), ("b", 48.9, 2.3), ("c", 51.5, -0.1), ("d", -33.9, 151.2)]
    found = {
        part.name: [row.id for row in rows_of_part(roster(rows), part)]
        for part in cut(roster(rows), task())
    }
    assert sorted(sorted(ids) for ids in found.values()) == [["a", "b"], ["c"], ["d"]]


def test_every_house_is_in_one_part_and_none_is_too_large():
    rows = spread(3 * PART_SITES)
    all_of = roster(rows)
    parts = list(cut(all_of, task()))
    assert len(parts) == 4
    assert sorted(np.concatenate([part.rows for part in parts]).tolist()) == list(range(len(rows)))
    assert max(len(part.rows) for part in parts) < 1.2 * PART_SITES


def test_the_order_and_lines_of_a_table_change_nothing():
    rows = spread(300)
    again = parts_of(rows[::-1])
    assert {name: part.digest for name, part in parts_of(rows).items()} == {
        name: part.digest for name, part in again.items()
    }


@pytest.mark.parametrize(
    "change", [("house 7", 50.1, 9.0), ("house 7", 50.0, 9.1), ("house 7b", 50.0, 9.0)]
)
def test_a_row_that_changes_changes_its_own_part_alone(change):
    rows = [*spread(3 * PART_SITES, 2), ("far", -33.9, 151.2)]
    rows[7] = ("house 7", 50.0, 9.0)
    before = parts_of(rows)
    rows[7] = change
    after = parts_of(rows)
    assert before.keys() == after.keys()
    changed = [name for name in before if before[name].digest != after[name].digest]
    assert 1 <= len(changed) <= 2


@pytest.mark.parametrize(
    "changes",
    [
        {"first": dt.date(2027, 1, 2)},
        {"last": dt.date(2027, 12, 30)},
        {"like": {"close": {"offset_min": 20}}},
        {"summary": True},
        {"versions": ("0.0.0", "2026f")},
        {"versions": (versions_here()[0], "1999a")},
    ],
)
def test_all_that_makes_other_plans_makes_other_digests(changes):
    rows = spread(20)
    (plain,) = cut(roster(rows), task())
    (other,) = cut(roster(rows), task(**changes))
    assert plain.digest != other.digest


def test_a_cell_that_changes_changes_the_digest():
    keys = ("close.offset_min",)
    (plain,) = parts_of([("a", 52.0, 5.0, "20")], keys).values()
    (other,) = parts_of([("a", 52.0, 5.0, "21")], keys).values()
    assert plain.digest != other.digest


def test_no_houses_make_no_parts():
    columns = {"id": [], "latitude": [], "longitude": []}
    nobody, _ = read_roster("club.csv", Table(tuple(columns), iter([Batch([], columns, [])])))
    assert list(cut(nobody, task())) == []
