"""``daylatch card --each``: a card for every house of a dataset, with the dataset's minutes."""

import json

import pypdfium2
import pytest

from daylatch.many.folder import MANIFEST
from peers.dask_cluster import cluster

TABLE = """\
id,latitude,longitude,name,card.call,door.works
a/../b,52.1,5.2,Mill Lane,Ann 0123,
=cmd,40.7,-74.0,,,
höf 3,-31.55,159.08,Höf,,hand
"""


@pytest.fixture(scope="module")
def dataset(tmp_path_factory):
    """Return a folder with a dataset of three houses."""
    from daylatch.__main__ import run  # noqa: PLC0415

    folder = tmp_path_factory.mktemp("club")
    (folder / "club.csv").write_text(TABLE)
    with cluster(1) as made:
        status = run(
            [
                *("many", str(folder / "club.csv"), "--year", "2027", "-o", str(folder / "out")),
                *("--scheduler", made.address),
            ]
        )
    assert status == 0
    return folder / "out"


def words_of(file):
    document = pypdfium2.PdfDocument(file)
    try:
        assert len(document) == 1
        page = document[0]
        text_page = page.get_textpage()
        text = text_page.get_text_bounded()
        text_page.close()
        page.close()
        return text
    finally:
        document.close()


def test_each_house_has_a_card_of_its_own(daylatch, dataset, tmp_path):
    ran = daylatch("card", "--each", str(dataset), "-o", "cards", "--month", "2027-12")
    assert ran.status == 0, ran.err
    assert "wrote cards: 3 cards, 2027-12-01 to 2027-12-31" in ran.out
    files = sorted((tmp_path / "cards").iterdir())
    assert [file.name.rsplit("-", 3)[0] for file in files] == ["a-..-b", "cmd", "höf-3"]
    texts = {file.name[0]: words_of(file) for file in files}
    assert "Mill Lane" in texts["a"]
    assert "Ann 0123" in texts["a"]
    # An American keeper reads 12-hour times.
    assert "PM" in texts["c"]
    assert "PM" not in texts["a"]


def test_a_card_says_the_minutes_of_the_dataset(daylatch, dataset, tmp_path):
    import pyarrow.dataset as ds  # noqa: PLC0415

    daylatch("card", "--each", str(dataset), "-o", "cards", "--month", "2027-12")
    (file,) = (tmp_path / "cards").glob("a-*")
    text = words_of(file)
    rows = ds.dataset(dataset / "times", format="parquet").to_table().to_pylist()
    mine = [row for row in rows if row["site"] == "a/../b" and row["date"].month == 12]
    assert len(mine) == 31
    for row in mine:
        assert row["open_local"][11:16] in text
        assert row["close_local"][11:16] in text


def test_without_dates_it_is_of_those_of_the_dataset(daylatch, dataset):
    ran = daylatch("card", "--each", str(dataset), "-o", "cards")
    assert "3 cards, 2027-01-01 to 2027-12-31" in ran.out


def test_cards_are_written_again_and_files_of_others_are_not(daylatch, dataset, tmp_path):
    assert daylatch("card", "--each", str(dataset), "-o", "cards").status == 0
    assert daylatch("card", "--each", str(dataset), "-o", "cards").status == 0
    (file,) = (tmp_path / "cards").glob("a-*")
    file.write_text("mine")
    ran = daylatch("card", "--each", str(dataset), "-o", "cards")
    assert ran.status == 6
    assert file.read_text() == "mine"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"complete": False}, "is not complete"),
        ({"complete": "no"}, "is not complete"),
        ({"parts": 3}, "was changed by somebody"),
        ({"first_date": 5}, "was changed by somebody"),
        ({"parts": [{"name": "../x"}]}, "was changed by somebody"),
        ({"rows": "summary"}, "holds a summary and no times"),
        ({"generator": {"name": "other"}}, "is none of daylatch's"),
    ],
)
def test_what_is_no_whole_dataset_gives_no_cards(daylatch, dataset, tmp_path, change, words):
    told = json.loads((dataset / MANIFEST).read_text()) | change
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / MANIFEST).write_text(json.dumps(told))
    ran = daylatch("card", "--each", "other", "-o", "cards")
    assert ran.status == 2
    assert words in ran.err


def test_times_that_are_no_longer_right_give_no_card(daylatch, dataset, tmp_path, monkeypatch):
    from daylatch.commands.people import each_card  # noqa: PLC0415

    true = each_card.make_plan

    def newer_rules(site, *dates, **options):
        plan = true(site, *dates, **options)
        plan.decisions.close.time[5] += 1
        return plan

    monkeypatch.setattr(each_card, "make_plan", newer_rules)
    ran = daylatch("card", "--each", str(dataset), "-o", "cards")
    assert ran.status == 13
    assert ran.err.count("has no card: its times in the dataset are others") == 3


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--each", "nosuch", "-o", "cards"), "is no folder of a dataset"),
        (("--each", "OUT"), "say where the cards go"),
        (("--each", "OUT", "-o", "cards", "--year", "2028"), "ask for dates among them"),
        (("site.toml", "--each", "OUT", "-o", "cards", "--rows", "days"), "--rows"),
        (("other.toml", "--each", "OUT", "-o", "cards"), "give either a site"),
    ],
)
def test_misuse_is_told(daylatch, dataset, arguments, words):
    ran = daylatch("card", *(str(dataset) if word == "OUT" else word for word in arguments))
    assert ran.status == 2
    assert words in ran.err


def test_a_damaged_file_is_named(daylatch, dataset, tmp_path):
    import shutil  # noqa: PLC0415

    shutil.copytree(dataset, tmp_path / "copy")
    for file in (tmp_path / "copy/times").iterdir():
        file.write_bytes(b"PAR1")
    ran = daylatch("card", "--each", "copy", "-o", "cards")
    assert ran.status == 2
    assert "run the same daylatch many again" in ran.err
