"""Real folders and real recordings: read whole, or refused in plain words."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import numpy as np
import pytest

from shotplan.errors import BadInput
from shotplan.outing import read
from shotplan.ride.along import downhill_rad, part
from tests.worlds import SITE, laid_over, toml_text

pytestmark = pytest.mark.real

TRACKS = (
    "Mojstrovka", "ardennes_ride", "cerknicko-jezero", "korita-zbevnica", "lyon_offroad_ride",
    "munich_ride", "no_times",
)  # fmt: skip
NEED_A_SPEED = {"Mojstrovka", "no_times"}
TOO_FAST = {"cerknicko-jezero"}


def test_the_rim_reads(real: Path) -> None:
    folder = real / "sites" / "rim"
    outing = read(folder)
    assert outing.shots[0].name == "rim from the open side"
    assert set(outing.inputs) == {"site.toml", "ground.geojson", "terrain.tif", "ride.gpx"}
    given = hashlib.sha256((folder / "terrain.tif").read_bytes()).hexdigest()
    assert outing.inputs["terrain.tif"] == given
    assert [t.id for t in outing.site.obstacles.things] == ["pine-1", "pine-2", "beside-1"]
    # SOURCES.md: 5 m terrain; a national grid, so the datum step is named with its accuracy.
    assert outing.site.terrain.cell_m == pytest.approx(5.0, rel=0.01)
    assert "MGI to WGS 84" in outing.site.terrain.assumptions[0]
    assert outing.ride.ground_known.all()


def test_the_rim_s_downhill_side_is_the_open_one(real: Path) -> None:
    outing = read(real / "sites" / "rim")
    ground = outing.site.terrain.ground_m
    shot = part(outing.ride, 0.0, float(outing.ride.along_m[0, -1]), 5.0, ground)
    azimuth = downhill_rad(shot, ground)
    out = 50.0 * np.array([np.sin(azimuth), np.cos(azimuth)])
    filmed = shot.xyz_m[0, shot.filmed]
    fall = filmed[:, 2] - ground(filmed[:, :2] + out)
    # SOURCES.md: the cliff falls 60 to 95 m within 50 m.
    assert 40.0 < np.median(fall) < 100.0


def test_the_paced_tree_stands_three_metres_right(real: Path) -> None:
    outing = read(real / "sites" / "rim")
    tree = next(t for t in outing.site.obstacles.things if t.paced)
    near = np.argmin(np.abs(outing.ride.along_m[0] - 180.0))
    away = tree.where_m[0] - outing.ride.xyz_m[0, near, :2]
    assert np.linalg.norm(away) == pytest.approx(3.0, abs=0.4)
    course = outing.ride.course_rad[0, near]
    assert away @ [np.cos(course), -np.sin(course)] > 2.9


@pytest.mark.parametrize("speed_m_s", [None, 6.0])
@pytest.mark.parametrize("track", TRACKS)
def test_a_real_recording_is_read_or_refused_in_words(
    real: Path, tmp_path: Path, track: str, speed_m_s: float | None
) -> None:
    shutil.copy(real / "track" / f"{track}.gpx", tmp_path / "ride.gpx")
    ride = {"path": "ride.gpx", "speed_m_s": speed_m_s}
    crew = [{"name": "Ada", "role": ["rider", "pilot"]}]
    says = laid_over(SITE, {"terrain_m": 300.0, "ride": ride, "crew": crew})
    (tmp_path / "site.toml").write_text(toml_text(says), encoding="utf-8")
    refused = speed_m_s is None and track in NEED_A_SPEED | TOO_FAST
    if refused:
        with pytest.raises(BadInput) as caught:
            read(tmp_path)
        assert len(caught.value.problems) == 1
        assert "ride.gpx" in str(caught.value)
        assert "speed_m_s" in str(caught.value)
        return
    outing = read(tmp_path)
    assert outing.ride.speed_m_s.max() <= 45.0
    assert len(outing.repairs) >= 1
    np.testing.assert_allclose(np.diff(outing.ride.t_s), 0.1, atol=1e-6)
    if speed_m_s is not None:
        assert np.median(outing.ride.speed_m_s) == pytest.approx(6.0, abs=0.1)
