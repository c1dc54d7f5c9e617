"""Rasters of heights: every cell stands in a body, elevations are no heights."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
import shapely
from pyproj import CRS, Transformer
from rasterio.transform import from_origin
from shapely.geometry import shape

from shotplan.errors import Problems
from shotplan.intake.canopy import read_canopy
from shotplan.intake.found import Found
from tests.scans import CORNER, MADE_CRS, Array, made_ride

RIDE = made_ride((5.0, 30.0), (55.0, 30.0))
SIDE = 60


def heights(cell_m: float = 1.0) -> Array:
    """A tree, a wood, a hedge, a hole in the data: rows from the north."""
    count = round(SIDE / cell_m)
    at = (np.arange(count) + 0.5) * cell_m
    x, y = np.meshgrid(at, SIDE - at)
    z = np.where(np.hypot(x - 15.0, y - 40.0) < 3.0, 9.0 - np.hypot(x - 15.0, y - 40.0), 0.0)
    z = np.where((x > 30.0) & (y > 40.0), 12.0 + np.sin(x) + np.cos(y), z)
    z = np.where((y > 10.0) & (y < 12.0) & (x < 25.0), 1.5, z)
    return np.where((x > 40.0) & (x < 50.0) & (y < 20.0), np.nan, z)


def write(path: Path, z: Array, cell_m: float = 1.0) -> Path:
    with rasterio.open(
        path, "w", driver="GTiff", width=z.shape[1], height=z.shape[0], count=1, dtype="float32",
        crs=MADE_CRS, transform=from_origin(CORNER[0], CORNER[1] + SIDE, cell_m, cell_m),
        nodata=-9999.0,
    ) as raster:  # fmt: skip
        raster.write(np.where(np.isnan(z), -9999.0, z).astype(np.float32), 1)
    return path


def found_in(path: Path, **more: Any) -> Found:
    problems = Problems()
    found = read_canopy(path, RIDE, problems, **more)
    assert problems.found == []
    assert found is not None
    return found


def refused(path: Path, ride: Array = RIDE, **more: Any) -> str:
    problems = Problems()
    assert read_canopy(path, ride, problems, **more) is None
    return " | ".join(str(p) for p in problems.found)


def bodies(found: Found, *roles: str) -> list[tuple[Any, dict[str, Any]]]:
    """In metres from the corner."""
    to = Transformer.from_crs("EPSG:4326", MADE_CRS, always_xy=True)
    drawn = []
    for feature in found.features:
        says = feature["properties"]
        area = shapely.transform(
            shape(feature["geometry"]),
            lambda p: np.column_stack(to.transform(p[:, 0], p[:, 1])) - CORNER,
        )
        if says["role"] in roles:
            drawn.append((area.buffer(says.get("radius_m", 0.0), 64), dict(says)))
    return drawn


@pytest.mark.parametrize("cell_m", [0.5, 1.0, 2.0])
def test_every_cell_stands_in_a_body(tmp_path: Path, cell_m: float) -> None:
    z = heights(cell_m)
    found = found_in(write(tmp_path / "c.tif", z, cell_m))
    drawn = bodies(found, "tree", "wood", "pole")
    assert len(drawn) < 16, "a wood is no heap of trees"
    row, col = np.nonzero(np.nan_to_num(z) > 0.5)
    held = np.zeros(len(row), dtype=bool)
    for area, says in drawn:
        corners = [
            ((col + e) * cell_m, SIDE - (row + s) * cell_m) for e in (0.1, 0.9) for s in (0.1, 0.9)
        ]
        inside = np.all([shapely.contains_xy(area, x, y) for x, y in corners], axis=0)
        held |= inside & (z[row, col] <= says["height_m"])
    assert held.mean() > 0.99
    tall = [says for _, says in bodies(found, "wood") if says["height_m"] > 10.0]
    assert tall
    assert max(s["height_m"] for s in tall) == pytest.approx(14.0, abs=0.2)


def test_where_there_is_no_value_nobody_looked(tmp_path: Path) -> None:
    found = found_in(write(tmp_path / "c.tif", heights()))
    seen = shapely.union_all([area for area, _ in bodies(found, "surveyed")])
    assert not seen.intersects(shapely.box(40.5, 0.5, 49.5, 19.5))
    assert seen.contains(shapely.box(2.0, 2.0, 38.0, 58.0))
    (first, *_) = [says for _, says in bodies(found, "surveyed")]
    assert first["looked_for"] == ["trees"]
    assert "m² near the ride has no value: not surveyed" in " ".join(found.said)


def test_a_surface_less_its_terrain_is_the_same(tmp_path: Path) -> None:
    """The terrain in posts of its own, 5 m apart."""
    z = heights()
    x, y = np.meshgrid(np.arange(SIDE) + 0.5, SIDE - (np.arange(SIDE) + 0.5))
    surface = write(tmp_path / "surface.tif", z + 300.0 + 0.3 * x - 0.1 * y)
    far = np.arange(-20.0, 80.0, 5.0) + 2.5
    east, north = np.meshgrid(far, far[::-1])
    ground = tmp_path / "ground.tif"
    with rasterio.open(
        ground, "w", driver="GTiff", width=20, height=20, count=1, dtype="float64", crs=MADE_CRS,
        transform=from_origin(CORNER[0] - 20.0, CORNER[1] + 80.0, 5.0, 5.0),
    ) as raster:  # fmt: skip
        raster.write(300.0 + 0.3 * east - 0.1 * north, 1)
    plain = found_in(write(tmp_path / "c.tif", z))
    less = found_in(surface, terrain=ground)
    assert len(less.features) == len(plain.features)
    for one, other in zip(less.features, plain.features, strict=True):
        assert one["geometry"] == other["geometry"]
        pair = [f["properties"].get("height_m", 0.0) for f in (one, other)]
        assert pair[0] == pytest.approx(pair[1], abs=0.02)
    assert "give the terrain as well" in refused(surface)
    assert "different zeros" in refused(write(tmp_path / "c2.tif", z), terrain=ground)


def test_what_cannot_be_used_is_said(tmp_path: Path) -> None:
    path = write(tmp_path / "c.tif", heights())
    assert "km from the ride's" in refused(path, RIDE + 1.0)
    text = tmp_path / "text.tif"
    text.write_text("heights", "utf-8")
    assert "is no GeoTIFF" in refused(text)
    assert "there is no such file" in refused(tmp_path / "none.tif")


@pytest.mark.real
def test_coarse_cells_promise_nothing(real: Path, tmp_path: Path) -> None:
    name = "454_4576_2017_Alt95.asc"
    step = Transformer.from_crs("EPSG:25830", "EPSG:4326", always_xy=True)
    ride = np.stack(step.transform([454300.0, 455200.0], [4574300.0, 4575500.0]), axis=-1)
    assert "no coordinate system (CRS): put" in refused(real / "lidar" / name, ride)
    path = tmp_path / name
    shutil.copyfile(real / "lidar" / name, path)
    path.with_suffix(".prj").write_text(CRS("EPSG:25830").to_wkt("WKT1_ESRI"), "utf-8")
    problems = Problems()
    found = read_canopy(path, ride, problems)
    assert found is not None
    assert problems.found == []
    roles = {f["properties"]["role"] for f in found.features}
    assert roles == {"wood"}
    assert "nothing counts as surveyed" in " ".join(found.said)
