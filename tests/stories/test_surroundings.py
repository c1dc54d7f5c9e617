"""Coarser terrain where the lidar tile ends: for sight, wind, skyline and sun, never for ground."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from shotplan.aids import skyline
from shotplan.checks import CHECKS
from shotplan.errors import BadInput
from shotplan.flying import stage_scene
from shotplan.judging.judge import find
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing, read
from shotplan.scene import sunlight
from tests.worlds import SIDE_TRACK, place, write_site, write_terrain

Array = NDArray[np.float64]
Ground = Callable[[Array, Array], Array]
CREW = [
    {"name": "Ada", "role": "rider"},
    {"name": "Bo", "role": "pilot", "stands": "lookout"},
]


def level(east: Array, _north: Array) -> Array:
    return 300.0 + 0.0 * east


def tile(east: Array, north: Array) -> Array:
    """Known to 60 m on either side of the ride; the ride goes north through the middle."""
    return np.where(np.abs(east) < 60.0, level(east, north), np.nan)


def ridge(east: Array, _north: Array) -> Array:
    """A ridge of 100 m, 300 m to the east."""
    return 300.0 + np.maximum(100.0 - np.abs(east - 300.0), 0.0)


def outing(folder: Path, wide: Ground | None, *, east_m: float = 50.0, **site: Any) -> Outing:
    """A lookout so far east; `wide` the coarser ground."""
    says = {"crew": CREW, **site, **({"surroundings": "wide.tif"} if wide else {})}
    write_site(
        folder, terrain=tile, site=says, features=[place("lookout", east_m=east_m, north_m=0.0)]
    )
    if wide:
        write_terrain(folder / "wide.tif", wide, 30.0, 6000.0)
    return read(folder)


def found(made: Outing, check: str) -> Finding:
    scene = stage_scene(made, made.shots[0], made.day.start, 1)
    return find(next(c for c in CHECKS if c.id == check), scene)


def test_sight_from_beyond_the_tile_becomes_known(tmp_path: Path) -> None:
    without = found(outing(tmp_path / "a", None, east_m=75.0), "sight")
    assert without.verdict == Verdict.UNKNOWN
    assert found(outing(tmp_path / "b", level, east_m=75.0), "sight").verdict == Verdict.GO


def test_a_hill_of_the_surroundings_hides_it(tmp_path: Path) -> None:
    def bank(east: Array, _north: Array) -> Array:
        return 300.0 + np.maximum(30.0 - np.abs(east - 130.0), 0.0)

    hidden = found(outing(tmp_path, bank, east_m=200.0), "sight")
    assert (hidden.verdict, hidden.thing) == (Verdict.NO_GO, "ground")


def test_where_the_tile_knows_the_ground_the_surroundings_are_not_asked(tmp_path: Path) -> None:
    """12 m higher they would hide it, but only where the tile ends."""
    made = outing(tmp_path, lambda x, y: level(x, y) + 12.0)
    assert found(made, "sight").verdict == Verdict.GO
    assert made.site.terrain.wide_ground_m(np.array([[0.0, 0.0], [90.0, 0.0]])) == (
        pytest.approx([300.0, 312.0])
    )


@pytest.mark.parametrize("check", ["wind", "pace"])
def test_wind_from_over_the_end_of_the_tile_becomes_known(tmp_path: Path, check: str) -> None:
    close: dict[str, Any] = {
        "shot": [{**SIDE_TRACK, "side": "left", "distance_m": 40.0}]
    }  # 20 m to the end
    without, made = outing(tmp_path / "a", None, **close), outing(tmp_path / "b", level, **close)
    assert found(without, "wind").verdict == Verdict.UNKNOWN
    assert found(made, check).verdict == Verdict.GO


def test_the_ground_stays_unknown_whatever_the_surroundings_say(tmp_path: Path) -> None:
    past: dict[str, Any] = {"shot": [{**SIDE_TRACK, "distance_m": 70.0}], "rules": "us-part107"}
    for number, wide in enumerate((None, level)):
        made = outing(tmp_path / str(number), wide, **past)
        assert found(made, "ground").verdict == Verdict.UNKNOWN
        assert found(made, "height").verdict == Verdict.UNKNOWN


def test_sun_and_skyline_know_the_ridge(tmp_path: Path) -> None:
    made = outing(tmp_path, ridge)
    eye = np.array([[0.0, 0.0, 302.0]])
    low = np.radians(10.0)  # the ridge stands at 18° in the east
    toward = np.array([[np.cos(low), 0.0, np.sin(low)]])
    shaded = sunlight.direct(made.site, eye, toward)
    assert (shaded.lit.tolist(), shaded.by.tolist()) == ([0.0], ["ground"])
    high = np.radians(25.0)
    toward = np.array([[np.cos(high), 0.0, np.sin(high)]])
    lit = sunlight.direct(made.site, eye, toward)
    assert (lit.lit.tolist(), lit.known_m.tolist()) == ([1.0], [np.inf])
    seen = skyline.around(made.site, eye[0], np.array([np.pi / 2.0]), np.radians([20.0, 0.0]))
    # Posts 30 m apart cut some of its crest.
    assert seen.ground_rad[0] == pytest.approx(np.arctan2(98.0, 300.0), abs=0.05)


def test_its_hash_is_among_the_inputs_and_survey_names_it(tmp_path: Path) -> None:
    made = outing(tmp_path, level)
    assert "wide.tif" in made.inputs
    assert any("wide.tif" in line for line in made.site.terrain.assumptions)


def test_surroundings_that_miss_the_site_are_an_error(tmp_path: Path) -> None:
    made = outing(tmp_path, level)
    assert made.site.terrain.beyond is not None
    write_terrain(tmp_path / "far.tif", level, 30.0, 200.0)
    text = (tmp_path / "site.toml").read_text("utf-8")
    (tmp_path / "site.toml").write_text(text.replace("wide.tif", "far.tif"), "utf-8")
    import rasterio
    from rasterio.transform import from_origin

    with rasterio.open(tmp_path / "far.tif", "r+") as raster:
        raster.transform = from_origin(500_000.0, 5_200_000.0, 30.0, 30.0)
    with pytest.raises(BadInput, match="does not reach the site"):
        read(tmp_path)


def test_surroundings_that_count_from_another_zero_are_an_error(tmp_path: Path) -> None:
    """Heights above the ellipsoid lie some 46 m above those of the tile there."""
    with pytest.raises(BadInput, match=r"46 m above terrain\.tif.*different zeros"):
        outing(tmp_path, lambda x, y: level(x, y) + 46.0)


def test_surroundings_that_are_not_there_are_an_error(tmp_path: Path) -> None:
    made = write_site(tmp_path, terrain=tile, site={"surroundings": "wide.tif"})
    with pytest.raises(BadInput, match=r"wide\.tif"):
        read(made)


def test_surroundings_without_terrain_are_an_error(tmp_path: Path) -> None:
    made = write_site(tmp_path, site={"surroundings": "wide.tif"})
    write_terrain(tmp_path / "wide.tif", level, 30.0, 6000.0)
    with pytest.raises(BadInput, match="surroundings is given without terrain"):
        read(made)
