"""The bundled site is exactly what its drawing makes, and is what the README says it is."""

from __future__ import annotations

import json
import tomllib
from itertools import pairwise

import numpy as np
import rasterio
from numpy.testing import assert_array_equal

from tests import make_sites


def test_the_terrain_is_the_drawn_one() -> None:
    drawn = make_sites.terrain_m()
    with rasterio.open(make_sites.FOLDER / "terrain.tif") as file:
        assert_array_equal(file.read(1), drawn)
        assert file.crs.to_epsg() == int(make_sites.CRS.removeprefix("EPSG:"))
        assert file.res == (make_sites.CELL_M, make_sites.CELL_M)
        assert (file.bounds.left, file.bounds.bottom) == make_sites.ORIGIN_M
    assert (make_sites.FOLDER / "terrain.tif").stat().st_size < 400_000


def test_the_ground_is_the_drawn_one() -> None:
    assert (make_sites.FOLDER / "ground.geojson").read_text("utf-8") == make_sites.ground()


def test_the_ride_is_the_drawn_one() -> None:
    assert (make_sites.FOLDER / "ride.gpx").read_text("utf-8") == make_sites.ride()


def test_the_face_is_sheer_and_about_70_m_high() -> None:
    z = make_sites.terrain_m()
    over_land = z > 65.0
    rows, columns = np.nonzero(over_land[:, :-3] & ~over_land[:, 1:-2])
    assert len(rows) == 0  # nowhere does the land end to the east
    rows, columns = np.nonzero(over_land[:, 3:] & ~over_land[:, 2:-1])
    drop = z[rows, columns + 3] - z[rows, columns]
    assert len(drop) > 100
    assert np.median(drop) > 65.0  # within three cells, 6 m


def test_the_ride_has_realistic_speeds_one_stop_and_a_bend() -> None:
    path = make_sites.ridden()
    speeds = np.array([(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(path)])
    assert speeds.max() <= 8.0
    assert np.median(speeds[speeds > 0]) > 3.0
    # The last step onto the stop may be partly slow: the stop itself is the run without motion.
    assert np.isclose(np.sum(speeds == 0.0) * 0.05, make_sites.STOP_S, atol=0.06)
    assert abs(make_sites.ride_m() - 420.0) < 1.0


def test_its_tables_name_places_that_are_there() -> None:
    site = tomllib.loads((make_sites.FOLDER / "site.toml").read_text("utf-8"))
    places = {
        f["id"]
        for f in json.loads(make_sites.ground())["features"]
        if f["properties"]["role"] == "place"
    }
    stands = {c["stands"] for c in site["crew"] if "stands" in c}
    for shot in site["shot"]:
        stands |= set(shot.get("stands", {}).values())
    assert "launch" in places
    assert stands <= places
