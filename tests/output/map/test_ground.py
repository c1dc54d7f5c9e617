from __future__ import annotations

import numpy as np

from shotplan.kernels.ground import grid
from shotplan.model.frame import Frame
from shotplan.model.terrain import Terrain
from shotplan.output.map import ground
from shotplan.output.map.shapes import Extent

FRAME = Frame(lon_deg=-8.1, lat_deg=54.2)
VIEW = Extent(-100.0, -80.0, 100.0, 80.0)


def slope(rise: float, missing: bool = False) -> Terrain:
    """Posts each 5 m; rises to the east."""
    y, x = np.mgrid[0:61, 0:61] * 5.0
    z = 50.0 + rise * x + 0.0 * y
    if missing:
        z[:, 40:] = np.nan
    to_grid = np.array([[30, 0, 0.2, 0, 0, 0], [30, 0.2, 0, 0, 0, 0]], dtype=float)
    to_frame = np.array([[-150, 0, 5, 0, 0, 0], [-150, 5, 0, 0, 0, 0]], dtype=float)
    return Terrain(grid=grid.make(z, to_grid, to_frame), source="made", cell_m=5.0)


def test_the_light_comes_from_the_north_west() -> None:
    """Common practice in relief shading: so a slope that falls to the west is the brighter."""
    falls_west = ground.relief(slope(0.5), FRAME, VIEW, 60).shade.mean()
    falls_east = ground.relief(slope(-0.5), FRAME, VIEW, 60).shade.mean()
    assert falls_west > ground.LEVEL > falls_east


def test_level_ground_has_no_relief_and_no_contours() -> None:
    flat = Terrain(grid=grid.flat(84.0), source="level", cell_m=1.0)
    found = ground.relief(flat, FRAME, VIEW, 60)
    assert not found.relief
    assert len(np.unique(found.shade)) == 1
    assert ground.contours(flat, VIEW) == ()


def test_missing_ground_is_hatched_where_it_is_missing() -> None:
    found = ground.relief(slope(0.5, missing=True), FRAME, VIEW, 60)
    hatched = found.shade >= ground.SHADES
    east = np.arange(hatched.shape[1]) / hatched.shape[1] > 0.8
    assert hatched[:, east].all()
    assert not hatched[:, : hatched.shape[1] // 2].any()


def test_contours_lie_at_their_elevation() -> None:
    terrain = slope(0.5)
    shapes = ground.contours(terrain, VIEW)
    lines = [s for s in shapes if s.kind == "line"]
    assert lines
    for shape in lines:
        assert shape.info is not None
        said = float(shape.info.rows[0][1].removesuffix(" m"))
        np.testing.assert_allclose(terrain.ground_m(shape.parts[0]), said, atol=0.05)
    assert any(s.kind == "mark" for s in shapes)


def test_corners_are_those_of_the_view() -> None:
    found = ground.relief(slope(0.5), FRAME, VIEW, 60)
    low = FRAME.xy_m(np.array([found.west_deg, found.south_deg]))
    high = FRAME.xy_m(np.array([found.east_deg, found.north_deg]))
    np.testing.assert_allclose([*low, *high], [-100.0, -80.0, 100.0, 80.0], atol=0.01)
