"""The measured light of `data/`, and what it comes to on a plane by another program."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib

from daylatch.door.power.light.light_file import read_light
from daylatch.door.power.light.on_panel import Stand
from daylatch.door.power.light.plane import Plane

DATA = Path(__file__).parent / "data"
TYPICAL_YEAR = DATA / "typical_year_45N_8E.csv"
LATITUDE, LONGITUDE = 45.0, 8.0
OFFSET_H = 0.1761
"""By the head of the file."""
COPENHAGEN = (55.7906, 12.5251)


def stand(tilt, azimuth=180.0, latitude=LATITUDE, longitude=LONGITUDE, skyline=None):
    return Stand.at(latitude, longitude, Plane(tilt, azimuth, 0.2), skyline)


@cache
def typical_year():
    return read_light(TYPICAL_YEAR.read_text(), 60, 180)


@cache
def hours():
    """Return the hours of the typical year as another program reads them."""
    lines = TYPICAL_YEAR.read_text().splitlines()
    begin = next(n for n, line in enumerate(lines) if line.startswith("time(UTC)"))
    rows = pd.read_csv(TYPICAL_YEAR, skiprows=begin, nrows=8760)
    rows.index = pd.to_datetime(rows["time(UTC)"], format="%Y%m%d:%H%M", utc=True)
    rows.index += pd.Timedelta(hours=OFFSET_H)
    return rows


@cache
def pvlib_months(tilt, azimuth=180.0):
    """Return the typical year's light on a plane by month, by pvlib [kWh/m² a day]."""
    rows = hours()
    sun = pvlib.solarposition.get_solarposition(rows.index, LATITUDE, LONGITUDE)
    light = pvlib.irradiance.get_total_irradiance(
        tilt,
        azimuth,
        sun["zenith"],
        sun["azimuth"],
        rows["Gb(n)"].clip(lower=0),
        rows["G(h)"],
        rows["Gd(h)"],
        albedo=0.2,
        model="isotropic",
    )["poa_global"]
    by_month = light.groupby(light.index.month).sum() / 1000
    return (
        by_month
        / by_month.index.map(lambda m: (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)[m - 1])
    ).to_numpy()


def copenhagen():
    """Return months of 2020: light on the level [kWh/m² a day], and the share that is diffuse."""
    rows = [
        line.split(";")
        for line in (DATA / "copenhagen_months_2020.csv").read_text().splitlines()
        if line[:1].isdigit()
    ]
    days = np.array([31, 29, 31, 30])
    level, diffuse = (np.array([float(row[n]) for row in rows]) for n in (6, 8))
    return level / 1000 / days, diffuse / level
