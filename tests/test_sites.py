"""The bundled sites are exactly what their drawings make, and are what their ABOUT.md says."""

from __future__ import annotations

import json
import tomllib
from itertools import pairwise

import numpy as np
import pytest
import rasterio
from numpy.testing import assert_array_equal

from shotplan.files.bundled import about_sites, bundled_sites
from tests.drawn import hvinhylde, larrigan
from tests.drawn.sheet import Ridden
from tests.make_sites import SITES, Drawn

each_site = pytest.mark.parametrize("site", SITES, ids=lambda site: site.folder.name)


def test_every_bundled_site_is_drawn() -> None:
    assert {s.folder.name: s.folder for s in SITES} == bundled_sites()


@each_site
def test_the_terrain_is_the_drawn_one(site: Drawn) -> None:
    path = site.folder / "terrain.tif"
    assert path.exists() == (site.terrain_m is not None)
    if site.terrain_m is None:
        return
    with rasterio.open(path) as file:
        assert_array_equal(file.read(1), site.terrain_m())
        assert file.crs.to_epsg() == int(site.sheet.crs.removeprefix("EPSG:"))
        assert file.res == (site.cell_m, site.cell_m)
        assert (file.bounds.left, file.bounds.bottom) == site.sheet.origin_m
    assert path.stat().st_size < 150_000


@each_site
def test_the_ground_and_the_ride_are_the_drawn_ones(site: Drawn) -> None:
    assert (site.folder / "ground.geojson").read_text("utf-8") == site.ground()
    path = site.folder / "ride.gpx"
    assert path.exists() == (site.ride is not None)
    if site.ride is not None:
        assert path.read_text("utf-8") == site.ride()


def test_the_face_is_sheer_and_about_70_m_high_and_the_sea_is_below() -> None:
    z = hvinhylde.terrain_m()
    over_land = z > 65.0
    rows, columns = np.nonzero(over_land[:, :-3] & ~over_land[:, 1:-2])
    assert len(rows) == 0  # nowhere does the land end to the east
    rows, columns = np.nonzero(over_land[:, 3:] & ~over_land[:, 2:-1])
    drop = z[rows, columns + 3] - z[rows, columns]
    assert len(drop) > 100
    assert np.median(drop) > 65.0  # within three cells, 6 m
    (sea,) = (f for f in drawn(hvinhylde.ground()) if f["role"] == "water")
    assert sea["level_m"] == 0.0
    assert z.min() < 0.0


def speeds_m_s(path: Ridden) -> np.ndarray:
    return np.array([(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(path)])


def test_the_ride_along_the_edge_has_realistic_speeds_one_stop_and_a_bend() -> None:
    speeds = speeds_m_s(hvinhylde.ridden())
    assert speeds.max() <= 8.0
    assert np.median(speeds[speeds > 0]) > 3.0
    # The last step onto the stop may be partly slow: the stop itself is the run without motion.
    assert np.isclose(np.sum(speeds == 0.0) * 0.05, hvinhylde.STOP_S, atol=0.06)
    assert abs(hvinhylde.ride_m() - 420.0) < 1.0


def test_the_ride_through_the_wood_is_brisk_and_straight_in_the_tunnel() -> None:
    speeds = speeds_m_s(larrigan.ridden())
    assert 3.0 <= speeds.min() <= speeds.max() <= 8.0
    assert 600.0 < larrigan.ride_m() < 900.0
    long_m = larrigan.TUNNEL_M[1] - larrigan.TUNNEL_M[0]
    assert long_m == 120.0
    for forward in (0.0, 40.0, 120.0):
        on_track = larrigan.track_at(larrigan.TUNNEL_M[0] + forward)
        assert on_track == pytest.approx(larrigan.axis_at(forward), abs=1e-6)


def test_the_tunnel_is_10_m_from_crown_to_crown_and_paced() -> None:
    site = tomllib.loads((larrigan.FOLDER / "site.toml").read_text("utf-8"))
    left, right = site["beside"]
    assert left["left_m"] + right["right_m"] == 10.0
    for row in (left, right):
        assert (row["from_m"], row["to_m"]) == larrigan.TUNNEL_M


def drawn(ground: str) -> list[dict[str, object]]:
    return [{"id": f["id"], **f["properties"]} for f in json.loads(ground)["features"]]


@each_site
def test_its_tables_name_places_and_people_that_are_there(site: Drawn) -> None:
    says = tomllib.loads((site.folder / "site.toml").read_text("utf-8"))
    features = drawn(site.ground())
    places = {f["id"] for f in features if f["role"] == "place"}
    stands = {c["stands"] for c in says["crew"] if "stands" in c}
    for shot in says["shot"]:
        stands |= set(shot.get("stands", {}).values())
    assert "launch" in places
    assert stands <= places
    assert len(says["shot"]) >= 3
    held_by = {f["held_by"] for f in features if "held_by" in f}
    assert held_by <= {c["name"] for c in says["crew"]}


@each_site
def test_its_first_key_of_each_kind_has_a_comment(site: Drawn) -> None:
    lines = (site.folder / "site.toml").read_text("utf-8").splitlines()
    seen, table = set(), ""
    for line in lines:
        if line.startswith("["):
            table = line.split("#")[0].strip(" []")
        elif "=" in line and not line.startswith("#"):
            key = (table, line.partition(" = ")[0])
            repeated = table == "shot" and key[1] in {"height_m", "distance_m"}
            assert key in seen or repeated or "#" in line, line
            seen.add(key)


def test_each_site_is_under_its_own_rule_pack_and_says_what_it_teaches() -> None:
    says = [tomllib.loads((s.folder / "site.toml").read_text("utf-8")) for s in SITES]
    assert len({s["rules"] for s in says}) == len(SITES)
    about = about_sites()
    for site, said in zip(SITES, says, strict=True):
        text = (site.folder / "ABOUT.md").read_text("utf-8")
        assert text.startswith(f"# {said['name']}\n\n")
        assert f"Rule pack `{said['rules']}`; aircraft `{said['aircraft']['class']}`." in text
        assert 20 < len(about[site.folder.name]) < 130
