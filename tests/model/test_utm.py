"""A point in the universal transverse Mercator grid."""

from __future__ import annotations

import re

import numpy as np
import pytest
from pyproj import Transformer

from shotplan.model.frame import Frame

HERE = np.zeros(2)


def read(text: str) -> tuple[int, str, int, int]:
    found = re.fullmatch(r"(\d\d)([A-Z]) ([\d\u00a0]+) E ([\d\u00a0]+) N", text)
    assert found, text
    east, north = (int(found[k].replace("\u00a0", "")) for k in (3, 4))
    return int(found[1]), found[2], east, north


@pytest.mark.parametrize(
    ("lon", "lat", "zone", "band"),
    [
        # The grid's definition: zones of 6° from 180° west, bands of 8° from 80° south with the
        # last of 12°; zone 32 widened at 56° to 64° north, 31 to 37 on Svalbard.
        (15.0, 46.0, 33, "T"),
        (-86.15, 49.64, 16, "U"),
        (139.95, -33.42, 54, "H"),
        (-179.9, 0.5, 1, "N"),
        (179.9, -0.5, 60, "M"),
        (5.0, 60.0, 32, "V"),
        (2.9, 60.0, 31, "V"),
        (8.0, 78.0, 31, "X"),
        (15.0, 78.0, 33, "X"),
        (25.0, 83.0, 35, "X"),
    ],
)
def test_zone_and_band(lon: float, lat: float, zone: int, band: str) -> None:
    assert read(Frame(lon_deg=lon, lat_deg=lat).utm(HERE))[:2] == (zone, band)


def test_the_middle_of_a_zone_is_500_km_east_and_the_equator_is_nought() -> None:
    # The grid's definition: false easting 500 km on the central meridian; 0 m at the equator.
    assert read(Frame(lon_deg=15.0, lat_deg=0.0).utm(HERE))[2:] == (500_000, 0)


def test_a_point_beside_the_centre_agrees_with_another_way() -> None:
    frame = Frame(lon_deg=14.0, lat_deg=46.0)
    at = np.array([430.0, -215.0])
    lon, lat = frame.lonlat_deg(at)
    proj = "+proj=utm +zone=33 +datum=WGS84 +units=m"
    east, north = Transformer.from_crs("EPSG:4326", proj, always_xy=True).transform(lon, lat)
    assert read(frame.utm(at))[2:] == (round(east), round(north))


def test_toward_the_poles_there_is_none() -> None:
    assert Frame(lon_deg=10.0, lat_deg=85.0).utm(HERE) == ""
    assert Frame(lon_deg=10.0, lat_deg=-81.0).utm(HERE) == ""
