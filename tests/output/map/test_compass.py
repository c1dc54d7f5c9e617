from __future__ import annotations

import re

import numpy as np
import pytest

from shotplan.output.map import compass
from tests.output.hostile import EVERY


def parts(path: str) -> list[np.ndarray]:
    """Lines of a path, each from a point to a point."""
    numbers = [
        [float(n) for n in re.findall(r"-?[\d.]+", line)] for line in path.split("M") if line
    ]
    return [np.array(line).reshape(-1, 2) for line in numbers]


@pytest.mark.parametrize("from_deg", [0.0, 45.0, 225.0, 310.0])
def test_the_staff_points_to_where_the_wind_comes_from(from_deg: float) -> None:
    staff = parts(compass.barb(from_deg, 5.0))[0]
    east, south = staff[1] - staff[0]
    assert np.degrees(np.arctan2(east, -south)) % 360.0 == pytest.approx(from_deg, abs=1.0)
    away = np.linalg.norm(staff - np.array(compass.ring(from_deg)), axis=1)
    assert away == pytest.approx([compass.RING, compass.STAFF], abs=0.1)


@pytest.mark.parametrize(
    ("speed", "long", "short"),
    # WMO practice: a long stroke is 10 kn (5 m/s), a short one 5 kn; the nearest is taken.
    [(0.0, 0, 0), (1.0, 0, 0), (2.5, 0, 1), (4.0, 1, 0), (5.0, 1, 0), (8.0, 1, 1), (10.4, 2, 0)],
)
def test_strokes_add_up_to_the_wind(speed: float, long: int, short: int) -> None:
    strokes = parts(compass.barb(225.0, speed))[1:]
    lengths = [float(np.linalg.norm(s[1] - s[0])) for s in strokes]
    assert len([one for one in lengths if one > 10.0]) == long
    assert len([one for one in lengths if one < 10.0]) == short


def test_in_a_calm_or_where_the_side_is_not_known_there_is_no_barb() -> None:
    assert 'id="wind"' not in compass.html("no wind", None, 0.0)
    assert 'id="wind"' in compass.html("wind from W, 4 m/s", 270.0, 4.0)


def test_words_are_text() -> None:
    assert "<img" not in compass.html(EVERY, None, 0.0)
