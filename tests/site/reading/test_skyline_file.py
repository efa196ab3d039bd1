"""Skylines from CSV files: a keeper's own, and a horizon file of PVGIS as it comes."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daylatch.site.reading.skyline_file import read_skyline_file

# From the source distribution of pvlib 0.16.1 (BSD-3), where its tests keep what they read from
# PVGIS (c) European Union, turned to north.
SAMPLE = Path(__file__).with_name("pvgis-horizon-from-north.csv")


def pvgis_file(corners, legend="A: Azimuth (0 = S, 90 = W, -90 = E) (degree)"):
    """Return a horizon file as PVGIS lays it out (from memory): azimuths from south, west positive.

    Both ends are north, and beside the horizon stand the Sun's paths of two days.
    """
    rows = [f"{azimuth - 180:.1f}\t{elevation}\t-112.5\t0.0" for azimuth, elevation in corners]
    rows.append(f"180.0\t{corners[0][1]}\t112.5\t0.0")
    return "\r\n".join(
        [
            "Latitude (decimal degrees): 35.171",
            "Longitude (decimal degrees): -106.465",
            "",
            "A\tH_hor\tA_sun(w)\tH_sun(w)",
            *rows,
            "",
            legend,
            "H_hor: Horizon height (degree)",
            "",
            "PVGIS (c) European Union, 2001-2025",
        ]
    ).encode()


def sample_corners():
    rows = list(csv.DictReader(SAMPLE.read_text().splitlines()))
    return [(float(r["horizon_azimuth"]), float(r["horizon_elevation"])) for r in rows]


def test_the_sample_is_read_as_it_is_from_north():
    skyline = read_skyline_file(SAMPLE.read_bytes())
    corners = sample_corners()
    assert len(corners) == 48
    assert list(zip(skyline.azimuth_deg, skyline.elevation_deg, strict=True)) == corners
    # It is high in the north and east and flat in the west.
    assert skyline.elevation_at([45.0, 270.0]).tolist() == [15.7, 0.0]


def test_a_file_of_pvgis_counts_from_south_and_is_turned():
    skyline = read_skyline_file(pvgis_file(sample_corners()))
    turned = read_skyline_file(SAMPLE.read_bytes())
    assert skyline.azimuth_deg.tolist() == turned.azimuth_deg.tolist()
    assert skyline.elevation_deg.tolist() == turned.elevation_deg.tolist()


def test_a_file_that_says_its_azimuths_begin_in_the_north_is_not_turned():
    corners = [(180.0, 1.0), (270.0, 5.0)]
    skyline = read_skyline_file(pvgis_file(corners, "A: Azimuth (0 = N, 90 = E) (degree)"))
    assert skyline.elevation_at([0.0, 90.0]).tolist() == [1.0, 5.0]


@pytest.mark.parametrize(
    "text",
    [
        "azimuth,elevation\n0,5\n90,10\n",
        "\ufeffElevation;note;Azimuth\n5;a hill;0\n10;;90\n",
        "# with a phone\nazimuth\televation\r\n0\t5\r\n# an oak\r\n90\t10\r\n\r\nthe end\r\n",
        '"azimuth","elevation"\n"0","5°"\n"90","10"\n360,5\n',
        "azimuth;elevation\n0,0;5,0\n90,0;10,0\n",
        "\n\nazimuth , elevation\n90, 10\n0, 5\n,\n",
    ],
)
def test_what_spreadsheets_make_of_it_is_read(text):
    skyline = read_skyline_file(text.encode())
    assert skyline.azimuth_deg.tolist() == [0.0, 90.0]
    assert skyline.elevation_deg.tolist() == [5.0, 10.0]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "no line has the columns azimuth and elevation"),
        (b"azimuth\n5\n", "no line has the columns"),
        (b"azimuth,elevation\n", "has no row below its header"),
        (
            b"azimuth,elevation\n0,5\n0,6\n",
            "line 3: azimuth 0 stands twice, with elevations 5 and",
        ),
        (b"azimuth,elevation\n0,5\n360,6\n", "line 3: azimuth 360 stands twice"),
        (b"azimuth,elevation\n0,95\n", "line 2: 95 is no elevation: write degrees above"),
        (b"azimuth,elevation\n-90,5\n", "line 2: -90 is no azimuth: count clockwise from true"),
        (b"azimuth,elevation\n0,high\n", 'line 2: elevation is "high": write degrees, such as'),
        (b"azimuth,elevation\n0\n", "line 2: elevation is nothing: write degrees"),
        (b"azimuth,elevation\n0,nan\n", 'line 2: elevation is "nan": write degrees'),
        (b"azimuth,elevation\n1_0,5\n", 'line 2: azimuth is "1_0": write degrees'),
        (b"azimuth,elevation\n0,5\xff\n", "line 2 is no text: save it as CSV in UTF-8"),
        (b"A\tH_hor\n270\t5\n", "line 2: A = 270: PVGIS counts azimuths from south, -180 to 180"),
    ],
)
def test_what_is_no_skyline_is_refused_by_its_line(content, words):
    with pytest.raises(ValueError, match="^" + words.replace("(", r"\(")):
        read_skyline_file(content)


@given(st.binary(max_size=300))
def test_whatever_a_file_holds_it_is_read_or_refused_in_words(content):
    try:
        skyline = read_skyline_file(b"azimuth,elevation\n" + content)
    except ValueError as error:
        said = str(error)
    else:
        said = "it is read"
        assert np.isfinite(skyline.elevation_deg).all()
    assert said.isprintable()
