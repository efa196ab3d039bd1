"""The dataset: its rows are those of single plans, read back by programs that are not ours."""

import csv
import datetime as dt
import io
import json
import random
from collections import defaultdict

import numpy as np
import pyarrow as pa
import pytest
from pyarrow import parquet

from daylatch.errors import SiteError
from daylatch.files.occasion import Occasion
from daylatch.many.checked import SAMPLED_OF, checked_blocks, sample
from daylatch.many.dataset import HOUSES, TIMES, houses_table, times_table, to_parquet
from daylatch.many.saved import saved_site
from daylatch.many.summary import summary_schema, summary_table
from daylatch.plan import csv as plan_csv
from daylatch.plan.block import make_plans
from daylatch.plan.due import exactly
from daylatch.plan.plan import make_plan
from daylatch.site.reading.site_file import read_site
from random_sites import random_text
from sites import FALLBACKS, KIRITIMATI, LONGYEARBYEN, LORD_HOWE, TAMPERE, UTRECHT, Spot, site

YEAR = dt.date(2027, 1, 1), dt.date(2027, 12, 31)
STAMP = dt.datetime(2027, 1, 1, tzinfo=dt.UTC)


def named(spot, text="", name="house"):
    made = site(spot, text, name=name)
    return made.__class__(**{**vars(made), "file_name": name})


def random_sites(seed, count):
    rng = random.Random(seed)
    found = []
    while len(found) < count:
        text = random_text(rng, len(found))
        try:
            found.append(read_site(text, f"house {len(found)}"))
        except SiteError:
            continue
    return found


def written(blocks):
    """Return the rows of blocks by their house, read back from a file."""
    tables = [times_table(block.sites, block.times) for block in blocks if block.times is not None]
    content = to_parquet(tables, TIMES, {"part": "x"})
    rows = defaultdict(list)
    for row in parquet.read_table(io.BytesIO(content)).to_pylist():
        rows[row["site"]].append(row)
    return rows


def rows_of_single(one, dates):
    """Return the rows of a plan's CSV, which other readers check elsewhere."""
    plan = make_plan(one, *dates, with_second_opinion=False)
    text = plan_csv.render(exactly(plan), Occasion(STAMP)).decode()
    return list(csv.DictReader(io.StringIO(text)))


def compare(mine, theirs):
    assert len(mine) == len(theirs)
    for row, single in zip(mine, theirs, strict=True):
        assert row["date"].isoformat() == single["date"]
        shut = not single["open_utc"]
        for side in ("open", "close"):
            instant = row[f"{side}_utc"]
            assert (instant is None) == shut
            if instant is not None:
                assert instant.utcoffset() == dt.timedelta(0)
                assert instant.strftime("%Y-%m-%dT%H:%M:%SZ") == single[f"{side}_utc"]
                local = dt.datetime.fromisoformat(row[f"{side}_local"])
                assert local == instant
                assert len(row[f"{side}_local"]) == len("2027-01-01T07:58:00+01:00")
            assert (row[f"{side}_local"] or "") == single[f"{side}_local"]
            assert row[f"{side}_reason"] == single[f"{side}_reason"]
            shortfall = "open" if side == "open" else "night"
            assert str(row[f"{shortfall}_shortfall_min"]) == single[f"{shortfall}_shortfall_min"]
        if shut:
            assert row["close_in_daylight"] is None
        else:
            assert row["close_in_daylight"] == (single["close_in_daylight"] == "yes")


@pytest.mark.parametrize("seed", range(2))
def test_random_houses_have_the_rows_of_their_single_plans(seed):
    blocks = list(make_plans(random_sites(seed, 40), *YEAR))
    rows = written(blocks)
    sites = [one for block in blocks for one in block.sites]
    assert len(sites) > 20
    assert sum(row["open_utc"] is None for own in rows.values() for row in own) > 100
    for one in sites:
        compare(rows[one.file_name], rows_of_single(one, YEAR))


def test_shut_days_of_a_span_say_why():
    text = '[[span]]\nfrom = 2027-02-01\nuntil = 2027-02-03\nshut = true\nreason = "order 7"\n'
    sites = [named(UTRECHT, text, "ordered"), named(UTRECHT, "", "free")]
    rows = written(make_plans(sites, *YEAR))
    shut = rows["ordered"][31]
    assert shut["date"] == dt.date(2027, 2, 1)
    assert shut["open_reason"] == "shut: dated span; order 7"
    assert shut["open_utc"] is shut["close_local"] is shut["close_in_daylight"] is None
    assert rows["free"][31]["open_utc"] is not None


def test_the_columns_are_of_their_documented_types():
    table = parquet.read_table(
        io.BytesIO(
            to_parquet(
                [times_table(b.sites, b.times) for b in make_plans([named(LORD_HOWE)], *YEAR)],
                TIMES,
                {},
            )
        )
    )
    kinds = {field.name: field.type for field in table.schema}
    assert kinds["date"] == pa.date32()
    assert kinds["open_utc"] == kinds["close_utc"] == pa.timestamp("ms", "UTC")
    assert kinds["open_local"] == kinds["close_local"] == pa.string()
    assert kinds["close_in_daylight"] == pa.bool_()
    assert kinds["open_shortfall_min"] == kinds["night_shortfall_min"] == pa.int16()
    assert b"count heads at dusk" in table.schema.metadata[b"caution"]
    offsets = {text[-6:] for text in table.column("open_local").to_pylist()}
    # Half an hour of daylight saving.
    assert offsets == {"+10:30", "+11:00"}


def test_a_part_without_houses_is_a_table_without_rows():
    table = parquet.read_table(io.BytesIO(to_parquet([], TIMES, {})))
    assert table.num_rows == 0
    assert table.schema.names == TIMES.names


@pytest.mark.parametrize("spot", [UTRECHT, LONGYEARBYEN, KIRITIMATI, TAMPERE])
def test_a_summary_is_that_of_the_single_plan(spot):
    one = named(spot, FALLBACKS)
    schema = summary_schema(*YEAR)
    (block,) = make_plans([one], *YEAR)
    (row,) = summary_table(block.sites, block.times, schema).to_pylist()
    plan = make_plan(one, *YEAR, with_second_opinion=False)
    lock_ins = {
        date: int(minutes // np.timedelta64(1, "m"))
        for date, minutes in zip(plan.dates.tolist(), plan.lock_in, strict=True)
        if not np.isnat(minutes)
    }
    assert row["longest_lock_in_min"] == max(lock_ins.values())
    assert lock_ins[row["longest_lock_in_date"]] == row["longest_lock_in_min"]
    assert row["shortest_night_min"] == min(lock_ins.values())
    assert lock_ins[row["shortest_night_date"]] == row["shortest_night_min"]
    assert row["days_shut"] == int((~plan.is_open).sum())
    assert row["days_close_in_daylight"] == int(exactly(plan).closes_in_daylight.sum())
    hours = defaultdict(float)
    for date, opens, closes in zip(plan.dates.tolist(), plan.open_utc, plan.close_utc, strict=True):
        if not np.isnat(opens):
            hours[f"open_h_{date:%Y_%m}"] += (closes - opens) / np.timedelta64(1, "h")
    for month in range(1, 13):
        name = f"open_h_2027_{month:02d}"
        assert row[name] == pytest.approx(hours[name], abs=0.006)


def test_a_house_that_never_opens_has_no_nights():
    text = "[[span]]\nfrom = 2027-01-01\nuntil = 2027-12-31\nshut = true\n"
    (block,) = make_plans([named(UTRECHT, text)], *YEAR)
    (row,) = summary_table(block.sites, block.times, summary_schema(*YEAR)).to_pylist()
    assert row["longest_lock_in_min"] is row["longest_lock_in_date"] is None
    assert row["shortest_night_min"] is row["shortest_night_date"] is None
    assert row["days_shut"] == 365
    assert row["open_h_2027_06"] == 0.0


def test_months_are_those_of_the_dates():
    names = summary_schema(dt.date(2026, 11, 15), dt.date(2027, 2, 1)).names
    assert names[-4:] == ["open_h_2026_11", "open_h_2026_12", "open_h_2027_01", "open_h_2027_02"]


@pytest.mark.parametrize("seed", range(3))
def test_a_house_that_was_saved_has_the_same_plan(seed):
    for one in random_sites(seed + 10, 12):
        (row,) = houses_table([one]).to_pylist()
        assert set(row) == set(HOUSES.names)
        again = saved_site(row)
        assert again.settings == one.settings
        assert (again.id, again.name, again.zone) == (one.id, one.name, one.zone)


def test_a_saved_house_keeps_every_table():
    text = (
        '[writing]\nclock = "12h"\nunits = "us"\n[door]\nworks = "timer"\nclock = "standard"\n'
        '[timer]\ntolerance_min = 5\n[card]\ncall = "Ann = 3"\nshow = ["place"]\n'
        '[flock]\nbirds = 12\n[open]\nnot_before = "none"\n'
        '[[span]]\nfrom = 2027-02-01\nuntil = 2027-02-03\nopen.fixed = "07:00"\naway = true\n'
    )
    one = named(UTRECHT, text)
    (row,) = houses_table([one]).to_pylist()
    assert json.loads(row["settings"])["open"] == {"not_before": "none"}
    assert saved_site(row).settings == one.settings


# --- Second opinions ---------------------------------------------------------------------------


def test_the_sample_is_the_most_polar_house_and_one_in_a_thousand():
    sites = random_sites(5, 30)
    drawn = sample(sites, "part-1")
    polar = max(sites, key=lambda one: abs(one.latitude_deg))
    assert polar.id in drawn
    assert 1 <= len(drawn) <= 2
    assert drawn == sample(sites[::-1], "part-1")
    assert len({frozenset(sample(sites, f"part-{number}")) for number in range(20)}) > 3
    assert sample([], "part-1") == set()
    assert SAMPLED_OF == 1000


def test_sampled_houses_are_compared_with_astral_and_all_on_arrays():
    sites = [named(Spot(50.0 + step, 9.0, "Europe/Berlin"), name=f"h{step}") for step in range(3)]
    for number, one in enumerate(sites):
        one.settings.head.__dict__["id"] = f"00000000-0000-4000-8000-{number:012d}"
    (block,) = checked_blocks(sites, *YEAR, {sites[0].id})
    assert block.events == 3 * 2 * 365
    assert block.by_astral == 2 * 365
    assert block.refused == ()


def test_a_house_whose_sun_is_wrong_is_refused_alone(monkeypatch):
    # One house's dawn of one day moved by half an hour, as a slip in the engine might.
    import daylatch.plan.block as module  # noqa: PLC0415

    true = module.decide

    def slipped(opening, closing, day):
        opening.event[100, 1] += np.timedelta64(30, "m")
        return true(opening, closing, day)

    monkeypatch.setattr(module, "decide", slipped)
    sites = [named(Spot(50.0 + step, 9.0, "Europe/Berlin"), name=f"h{step}") for step in range(3)]
    (block,) = checked_blocks(sites, *YEAR, set())
    assert [one.file_name for one in block.sites] == ["h0", "h2"]
    assert block.times.open_utc.shape == (365, 2)
    ((refused, error),) = block.refused
    assert refused.file_name == "h1"
    assert "the check of the Sun disagrees" in str(error)
    assert "2027-04-" in str(error)


def test_a_sampled_house_that_astral_disagrees_with_is_refused(monkeypatch):
    import daylatch.sun.second_opinion as module  # noqa: PLC0415

    monkeypatch.setattr(module, "DISAGREEMENT_DEG", -1.0)
    sites = [named(UTRECHT, name="a")]
    (block,) = checked_blocks(sites, *YEAR, {sites[0].id})
    assert block.times is None
    assert "astral" in str(block.refused[0][1])
