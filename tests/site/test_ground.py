"""The frame and the terrain, and things that do not belong to one place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from shotplan.errors import BadInput
from shotplan.model.site import Site
from shotplan.outing import read as read_outing
from tests.worlds import gpx_text, place, straight, tree, write_site

Array = NDArray[np.float64]


def slope(east: Array, north: Array) -> Array:
    return 100.0 + 0.1 * east - 0.05 * north


def read(folder: Path, **world: Any) -> Site:
    return read_outing(write_site(folder, **world)).site


def test_the_frame_is_about_the_boundary_s_centroid(tmp_path: Path) -> None:
    frame = read(tmp_path).frame
    assert (frame.lon_deg, frame.lat_deg) == pytest.approx((14.0, 46.0), abs=1e-9)


def test_without_a_boundary_the_frame_is_about_the_ride(tmp_path: Path) -> None:
    ride = np.array([[100.0, 0.0], [110.0, 0.0], [300.0, 0.0]])
    frame = read(tmp_path, ride=ride, without=["area"]).frame
    # The centroid of a line is its middle by length, not the mean of its points.
    np.testing.assert_allclose(frame.xy_m(np.array([14.0, 46.0])), [-200.0, 0.0], atol=0.01)


def test_a_raster_is_laid_into_the_frame(tmp_path: Path) -> None:
    terrain = read(tmp_path, terrain=slope).terrain
    at = np.array([[0.0, 0.0], [120.0, -80.0], [-333.0, 210.0]])
    np.testing.assert_allclose(terrain.ground_m(at), slope(at[:, 0], at[:, 1]), atol=1e-3)
    assert np.isnan(terrain.ground_m(np.array([[900.0, 0.0]]))).all()
    assert terrain.cell_m == pytest.approx(5.0, rel=1e-3)
    assert terrain.error_m == pytest.approx(1.0, abs=0.001)  # a fifth of the cell
    assert "UTM zone 33N" in terrain.assumptions[0]


def test_flat_ground_has_no_error(tmp_path: Path) -> None:
    terrain = read(tmp_path).terrain
    assert terrain.error_m == 0.0
    np.testing.assert_allclose(terrain.ground_m(np.array([[900.0, 0.0]])), 84.0)


def test_coarse_terrain_says_that_it_hides_cliffs(tmp_path: Path) -> None:
    outing = read_outing(write_site(tmp_path, terrain=slope, cell_m=30.0))
    said = outing.site.terrain.assumptions[1]
    assert said.startswith("terrain.tif has one post every 30 m: it cannot show a lip")
    assert said in outing.repairs  # so that plan and brief say it; survey and new: inventory


def test_without_terrain_every_height_is_unknown(tmp_path: Path) -> None:
    site = read(tmp_path, terrain=None, features=[tree("oak", east_m=9.0, north_m=0.0)])
    assert np.isnan(site.terrain.ground_m(np.array([[0.0, 0.0]]))).all()
    assert "every height above the ground is unknown" in site.terrain.assumptions[0]
    assert len(site.obstacles.rest_grown.columns.top_m) == 0
    np.testing.assert_array_equal(site.obstacles.rest_grown.doubtful_thing, [0])


def test_a_ride_that_leaves_the_terrain_is_no_error(tmp_path: Path) -> None:
    ride = np.array([[0.0, 0.0], [0.0, 480.0]])
    outing = read_outing(write_site(tmp_path, terrain=slope, ride=ride))
    known = outing.ride.ground_known[0]
    assert known[0]
    assert not known[-1]
    np.testing.assert_allclose(outing.ride.xyz_m[0, -1, 2], 80.0, atol=0.2)


def test_terrain_of_another_place_is_unknown_ground(tmp_path: Path) -> None:
    far = place("launch", east_m=20_000.0, north_m=0.0)
    ride = straight(0.0) + np.array([20_000.0, 0.0])
    site = read(tmp_path, terrain=slope, ride=ride, features=[far], without=["area", "launch"])
    assert "does not reach the site" in site.terrain.assumptions[0]


def test_a_boundary_in_another_country_is_said_once(tmp_path: Path) -> None:
    away = gpx_text(straight(0.0) + np.array([80_000.0, 0.0]), np.array([0.0, 40.0]))
    with pytest.raises(BadInput) as caught:
        read(tmp_path, ride=away)
    assert len(caught.value.problems) == 1
    assert "the ride lies 80 km from the middle of the site" in str(caught.value)


def test_latitude_and_longitude_swapped_are_said_to_be(tmp_path: Path) -> None:
    swapped = place("cairn", east_m=0.0, north_m=0.0)
    swapped["geometry"]["coordinates"] = [46.0, 14.0]
    with pytest.raises(BadInput, match="look swapped") as caught:
        read(tmp_path, features=[swapped])
    assert len(caught.value.problems) == 1
    assert "cairn" in str(caught.value)


def test_a_swapped_recording_is_not_told_about_geojson(tmp_path: Path) -> None:
    """The GPX has `lat` and `lon` by name: it is never told that GeoJSON wants longitude first."""
    ride = gpx_text(straight(0.0), np.array([0.0, 40.0])).replace("lat=", "l=")
    ride = ride.replace("lon=", "lat=").replace("l=", "lon=")
    with pytest.raises(BadInput, match="look swapped") as caught:
        read(tmp_path / "a", ride=ride)
    assert "in the ride or in the GeoJSON (latitude is how far north" in str(caught.value)
    with pytest.raises(BadInput, match="swapped, here or in the ride"):
        read(tmp_path / "b", ride=ride, without=["area"])


def test_elevations_that_do_not_fit_the_terrain_are_said(tmp_path: Path) -> None:
    ride = gpx_text(straight(0.0), np.array([0.0, 9.0]), np.array([130.0, 131.0]))
    outing = read_outing(write_site(tmp_path, ride=ride))
    assert "46 m above the terrain" in outing.repairs[0]
    np.testing.assert_allclose(outing.ride.xyz_m[..., 2], 84.0)
