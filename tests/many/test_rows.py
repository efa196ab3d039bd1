"""Tables of sites: three forms, and rows that cannot be read with their lines."""

import json

import numpy as np
import pyarrow as pa
import pytest
from pyarrow import parquet

from daylatch.errors import UsageError
from daylatch.many.roster import HOUSES, house_id, read_roster
from daylatch.many.rows import open_table


def read(path):
    with open_table(path) as table:
        return read_roster(str(path), table)


def written(tmp_path, text, name="club.csv"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_a_csv_gives_houses_with_lines_places_zones_and_settings(tmp_path):
    roster, bad = read(
        written(
            tmp_path,
            "id,latitude,longitude,zone,close.offset_min\n"
            'Mill Lane,52.1,5.2,,\n"Hof, links",-31.55,159.08,Australia/Lord_Howe,25\n',
        )
    )
    assert bad == []
    assert roster.ids == ["Mill Lane", "Hof, links"]
    assert roster.lines.tolist() == [2, 3]
    assert roster.keys == ("close.offset_min",)
    assert [roster.zones[zone] for zone in roster.zone_of] == [
        "Europe/Amsterdam",
        "Australia/Lord_Howe",
    ]
    assert [roster.settings[row] for row in roster.settings_of] == [("",), ("25",)]
    assert roster.latitude_deg.tolist() == [52.1, -31.55]


def test_semicolons_a_byte_order_mark_and_line_ends_of_spreadsheets_are_read(tmp_path):
    text = "\ufeffid;latitude;longitude\r\na;52.1;5.2\r\n\r\nb;1.5;103.8\r\n"
    roster, bad = read(written(tmp_path, text))
    assert bad == []
    assert roster.ids == ["a", "b"]
    assert roster.lines.tolist() == [2, 4]


def test_what_spreadsheets_leave_behind_is_no_trouble(tmp_path):
    text = "sep=;\nid;latitude;longitude;close.light;;\na;52,1;5,25;4,5;;\n;;;;;\nb;1;103,8;;;\n"
    roster, bad = read(written(tmp_path, text))
    assert bad == []
    assert roster.ids == ["a", "b"]
    assert roster.latitude_deg.tolist() == [52.1, 1.0]
    assert roster.settings[roster.settings_of[0]] == ("4.5",)
    assert roster.lines.tolist() == [3, 5]


def test_tabs_part_cells_too(tmp_path):
    roster, bad = read(written(tmp_path, "id\tlatitude\tlongitude\na\t52.1\t5.2\n"))
    assert (roster.ids, bad) == (["a"], [])


def test_a_comma_in_an_id_is_no_decimal_one(tmp_path):
    roster, _ = read(written(tmp_path, "id;latitude;longitude\n1,5;52,1;5,2\n"))
    assert roster.ids == ["1,5"]


def test_text_in_utf_16_is_named(tmp_path):
    with pytest.raises(UsageError, match="UTF-16: save it as CSV in UTF-8"):
        read(written(tmp_path, "id,latitude,longitude\na,52,5\n".encode("utf-16")))


def test_columns_of_ones_own_are_passed_over_where_that_is_said(tmp_path):
    path = written(tmp_path, "id,latitude,longitude,phone\na,52,5,0123\n")
    with open_table(path) as table:
        roster, bad = read_roster("club.csv", table, ["phone"])
    assert (roster.keys, bad) == ((), [])
    with open_table(path) as table, pytest.raises(UsageError, match="has no such column"):
        read_roster("club.csv", table, ["fax"])


def test_metres_of_a_map_are_told_as_such(tmp_path):
    _, (found,) = read(written(tmp_path, "id,latitude,longitude\na,6800125.4,580000\n"))
    assert "metres of a map projection" in found.reasons[0]


def test_all_forms_give_the_same_houses(tmp_path):
    rows = [("a", 52.1, 5.2, 25), ("b", -31.55, 159.08, 5)]
    lines = "".join(f"{','.join(map(str, row))}\n" for row in rows)
    files = [written(tmp_path, f"id,latitude,longitude,close.offset_min\n{lines}")]
    columns = dict(
        zip(
            ("id", "latitude", "longitude", "close.offset_min"),
            zip(*rows, strict=True),
            strict=True,
        )
    )
    files.append(tmp_path / "club.parquet")
    parquet.write_table(pa.table({name: list(cells) for name, cells in columns.items()}), files[1])
    features = [
        {
            "type": "Feature",
            "id": name,
            "geometry": {"type": "Point", "coordinates": [east, north]},
            "properties": {"close.offset_min": late},
        }
        for name, north, east, late in rows
    ]
    files.append(
        written(
            tmp_path,
            json.dumps({"type": "FeatureCollection", "features": features}),
            "club.geojson",
        )
    )
    first, _ = read(files[0])
    for file in files:
        roster, bad = read(file)
        assert bad == []
        assert roster.ids == first.ids
        assert roster.digests.tolist() == first.digests.tolist()
        assert roster.latitude_deg.tolist() == first.latitude_deg.tolist()
        assert [int(roster.settings[row][0]) for row in roster.settings_of] == [25, 5]


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ('"52°05\'",5.2,x', 'latitude = "52°05\'": write degrees between -90 and 90'),
        ('"52,09",5.2,x', 'latitude = "52,09": write degrees between -90 and 90, with a point'),
        ("91,5.2,x", 'latitude = "91": write degrees between -90 and 90'),
        ("nan,5.2,x", "latitude"),
        ("1_0,5.2,x", "latitude"),
        (",5.2,x", "latitude: is missing"),
        ("52.1,-181,x", 'longitude = "-181": write degrees between -180 and 180'),
        ("52.1,5.2,", "id: is missing: give each house an id of its own"),
        ("52.1,5.2," + "x" * 201, "is too long: at most 200"),
        ("52.1,5.2,a\u202eb", "id = "),
    ],
)
def test_each_bad_row_is_told_with_its_line_and_reason(tmp_path, row, reason):
    roster, bad = read(
        written(tmp_path, f"latitude,longitude,id\n52,5,good\n{row}\n53,5,good too\n")
    )
    assert roster.ids == ["good", "good too"]
    assert roster.lines.tolist() == [2, 4]
    (found,) = bad
    assert found.line == 3
    assert any(reason in one for one in found.reasons), found.reasons


def test_every_reason_of_a_row_is_told(tmp_path):
    _, (found,) = read(written(tmp_path, "id,latitude,longitude,zone\n,95,200,Europe/Olso\n"))
    assert [reason.split(" ")[0].rstrip(":") for reason in found.reasons] == [
        "latitude",
        "longitude",
        "id",
        "zone",
    ]
    assert "did you mean Europe/Oslo?" in found.reasons[3]


def test_a_malformed_line_moves_no_line_of_others(tmp_path):
    text = 'id,latitude,longitude\na,52,5\nb,52\nc,52,5,7,8\n"d\nd",52,5\ne,53,6\n'
    roster, bad = read(written(tmp_path, text))
    assert roster.ids == ["a", "e"]
    assert roster.lines.tolist() == [2, 7]
    assert [(row.line, row.id) for row in bad] == [(3, "b"), (4, "c"), (5, "d\nd")]
    assert bad[0].reasons == ("has 2 cells, and the first line names 3 columns",)


def test_bytes_that_are_no_text_spoil_their_own_row_only(tmp_path):
    roster, bad = read(written(tmp_path, b"id,latitude,longitude\n\xff\xfe,52,5\nb,52,5\n"))
    assert roster.ids == ["b"]
    assert bad[0].reasons == ("holds bytes that are no UTF-8: save the file as UTF-8",)


def test_a_quote_that_is_not_closed_is_told_with_all_its_lines(tmp_path):
    roster, bad = read(written(tmp_path, 'id,latitude,longitude\na,52,5\n"b,52,5\nc,53,5\n'))
    assert roster.ids == ["a"]
    assert bad[0].line == 3
    assert "lines 3 to 4 are one row" in bad[0].reasons[0]


def test_a_quote_that_is_not_closed_swallows_no_row_unseen(tmp_path):
    # Where the number of cells fits again, nothing but the quotes tells.
    text = 'id,latitude,longitude,notes\na,52,5,"hello\nb,52,5,x\nc,52,5,"bye"\nd,52,5,ok\n'
    roster, (bad,) = read(written(tmp_path, text))
    assert roster.ids == ["d"]
    assert (bad.line, bad.reasons) == (
        2,
        ("lines 2 to 4 are one row, by a quote that is not closed: close it",),
    )
    text = 'id,latitude,longitude,notes\na,52,5,"hello\nb,52,5,x"\nd,52,5,"two\nlines"\n'
    roster, (bad,) = read(written(tmp_path, text))
    assert roster.ids == ["d"]
    assert "lines 2 to 3 are one row" in bad.reasons[0]


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        ({"a": 1}, "close.offset_min: is an object"),
        ([{"a": 1}], None),
    ],
)
def test_cells_that_are_objects_or_lists_spoil_no_run(tmp_path, cell, reason):
    point = {"type": "Point", "coordinates": [5.2, 52.1]}
    features = [
        {"type": "Feature", "id": "a", "geometry": point, "properties": {"close.offset_min": cell}},
        {"type": "Feature", "id": "b", "geometry": point, "properties": {"close.offset_min": 5}},
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features})
    roster, bad = read(written(tmp_path, text, "club.geojson"))
    assert "b" in roster.ids
    if reason is not None:
        assert bad[0].id == "a"
        assert any(reason in one for one in bad[0].reasons)


def test_one_and_true_are_different_cells(tmp_path):
    point = {"type": "Point", "coordinates": [5.2, 52.1]}
    features = [
        {"type": "Feature", "id": str(number), "geometry": point, "properties": {"day.widen": cell}}
        for number, cell in enumerate([1, True, 1.0, "1"])
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features})
    roster, _ = read(written(tmp_path, text, "club.geojson"))
    assert [roster.settings[row][0] for row in roster.settings_of] == [1, True, 1.0, "1"]
    assert len(set(roster.settings_of.tolist())) == 4


def test_parquet_cells_that_python_cannot_hold_spoil_their_row_only(tmp_path):
    path = tmp_path / "club.parquet"
    far = pa.array([2**40, 0], pa.int64()).cast(pa.timestamp("s"))
    table = pa.table(
        {"id": ["a", "b"], "latitude": [52.0, 53.0], "longitude": [5.0, 5.0], "notes": far}
    )
    parquet.write_table(table, path)
    roster, (bad,) = read(path)
    assert roster.ids == ["b"]
    assert "notes: holds what is no text, number or date" in bad.reasons[0]


def test_binary_and_true_are_no_ids(tmp_path):
    path = tmp_path / "club.parquet"
    for ids in ([b"a", b"\xff"], [True, False]):
        parquet.write_table(
            pa.table({"id": ids, "latitude": [52.0, 53.0], "longitude": [5.0, 5.0]}), path
        )
        roster, bad = read(path)
        assert (len(roster), len(bad)) == (0, 2)


def test_an_id_that_stands_twice_is_refused_on_each_of_its_lines(tmp_path):
    text = "id,latitude,longitude\na,52,5\nb,52,5\na,52,6\n a ,1,1\n"
    roster, bad = read(written(tmp_path, text))
    assert roster.ids == ["b"]
    assert [(row.line, row.id) for row in bad] == [(2, "a"), (4, "a"), (5, "a")]
    assert "lines 4, 5" in bad[0].reasons[0] or "line 4, 5" in bad[0].reasons[0]


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("id,latitude,longitude,close.ofset_min", "did you mean close.offset_min?"),
        ("id,latitude,longitude,clos.offset_min", "did you mean close.offset_min?"),
        ("id,latitude,longitude,offset_min", "offset_min"),
        ("id,latitude,longitude,colour", "is not a key here"),
        ("id,latitude,,longitude", "column 3 has no name"),
        ("id,latitude,longitude,span.shut", "[[span]]"),
        ("id,latitude,longitude,place.zone", "the place is in latitude, longitude and zone"),
        ("id,latitude", "has no column longitude"),
        ("Id,Latitude,Longitude", "write id for Id"),
        ("id,lat,lon", "write latitude for lat"),
        ("id,latitude,longitude,phone", "name each with --ignore COLUMN"),
        ("id,latitude,longitude,id", "has two columns id"),
        ("", "has no column id"),
    ],
)
def test_a_column_that_means_nothing_is_refused_before_any_row(tmp_path, header, words):
    with pytest.raises(UsageError) as caught:
        read(written(tmp_path, f"{header}\na,52,5,1\n"))
    assert words in str(caught.value)
    assert "club.csv" in str(caught.value)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("club.xlsx", b"", "ends in .csv, .parquet or .geojson"),
        ("club.parquet", b"PAR1 or not", "is no Parquet file"),
        ("club.geojson", b"{", "is no GeoJSON"),
        ("club.geojson", b"[]", "with a list of features"),
        ("club.geojson", b'{"features": 5}', "with a list of features"),
    ],
)
def test_a_file_that_is_none_of_the_forms_is_refused(tmp_path, name, content, words):
    with pytest.raises(UsageError, match=r".*") as caught:
        read(written(tmp_path, content, name))
    assert words in str(caught.value)


def test_a_file_that_is_not_there_is_said_so(tmp_path):
    with pytest.raises(UsageError, match="no such file"):
        read(tmp_path / "club.csv")


def test_features_without_a_point_are_bad_rows_and_others_are_read(tmp_path):
    point = {"type": "Point", "coordinates": [5.2, 52.1, 3.0]}
    features = [
        {"type": "Feature", "geometry": point, "properties": {"id": "a"}},
        {"type": "Feature", "geometry": None, "properties": {"id": "b"}},
        {"type": "Feature", "geometry": {"type": "Point", "coordinates": []}},
        "c",
    ]
    path = written(
        tmp_path, json.dumps({"type": "FeatureCollection", "features": features}), "club.json"
    )
    roster, bad = read(path)
    assert roster.ids == ["a"]
    assert [row.line for row in bad] == [2, 3, 4]


def test_a_parquet_file_may_have_whole_numbers_as_ids_and_no_values(tmp_path):
    path = tmp_path / "club.parquet"
    parquet.write_table(
        pa.table(
            {
                "id": [7, 8, None],
                "latitude": [52.0, None, 1.0],
                "longitude": [5.0, 5.0, 1.0],
                "close.offset_min": [None, 5, 5],
            }
        ),
        path,
    )
    roster, bad = read(path)
    assert roster.ids == ["7"]
    assert [row.line for row in bad] == [2, 3]


def test_a_houses_identity_is_a_uuid_of_version_5_made_of_its_id(tmp_path):
    roster, _ = read(written(tmp_path, "id,latitude,longitude\nMill Lane,52,5\n"))
    made = house_id("Mill Lane")
    assert made[14] == "5"
    # Before version and variant are set (RFC 9562, 5.5), the digest is the UUID.
    digest = roster.digests.view(np.uint8).tobytes().hex()
    plain = made.replace("-", "")
    assert (digest[:12], digest[13:16], digest[17:]) == (plain[:12], plain[13:16], plain[17:])
    assert str(HOUSES) == "b4e1e0c1-6c1b-5d0e-9a55-6f9d2f0b7a3e"


def test_nothing_but_a_header_is_an_empty_roster(tmp_path):
    roster, bad = read(written(tmp_path, "id,latitude,longitude\n"))
    assert len(roster) == 0
    assert bad == []
