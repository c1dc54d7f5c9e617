"""Wind over ground and edges against EN 1991-1-4 and other published numbers."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.ground import edges
from shotplan.kernels.motion import wind
from shotplan.scene.local_wind import Air, Local

# EN 1991-1-4:2005+A1:2010 (4.3) to (4.8) with Table 4.1; rows recomputed from the formulas,
# reference/physics.md section 2.1 (formulas there from memory, high confidence).
EN_ROWS = [
    # category, kr, cr(2), cr(10), cr(30), cr(50), cr(120), Iv(10), gust at 10, gust at 50
    ("0", 0.1560, 1.0146, 1.2657, 1.4371, 1.5168, 1.6535, 0.1233, 1.365, 1.312),
    ("I", 0.1698, 0.8994, 1.1726, 1.3591, 1.4458, 1.5945, 0.1448, 1.419, 1.350),
    ("II", 0.1900, 0.7009, 1.0067, 1.2154, 1.3125, 1.4788, 0.1887, 1.524, 1.419),
    ("III", 0.2154, 0.6060, 0.7553, 0.9919, 1.1019, 1.2905, 0.2852, 1.731, 1.539),
    ("IV", 0.2343, 0.5396, 0.5396, 0.7970, 0.9167, 1.1218, 0.4343, 2.010, 1.670),
]


@pytest.mark.parametrize("row", EN_ROWS, ids=[r[0] for r in EN_ROWS])
def test_roughness_and_gust_rows(
    row: tuple[str, float, float, float, float, float, float, float, float, float],
) -> None:
    category, kr, *rest = row
    assert wind.terrain_factor(category) == pytest.approx(kr, abs=1e-4)
    factors = wind.roughness_factor(np.array([2.0, 10.0, 30.0, 50.0, 120.0]), category)
    np.testing.assert_allclose(factors, rest[:5], atol=1e-4)
    # (4.6), (4.7): the spread of the gusts over the mean is kr / cr(z), and (4.8) sqrt(1 + 7 Iv).
    intensity = wind.terrain_factor(category) / factors[[1, 3]]
    assert intensity[0] == pytest.approx(rest[5], abs=1e-4)
    np.testing.assert_allclose(np.sqrt(1.0 + 7.0 * intensity), rest[6:], atol=1e-3)


def test_the_formula_is_not_stretched_beyond_200_m() -> None:
    assert np.isnan(wind.roughness_factor(np.array([201.0]), "II"))[0]


# EN 1991-1-4 Annex A.3, grid recomputed: reference/physics.md section 2.2.
GRID = [
    # zeta, crest, x/Lu -0.5, hill x/Ld 0.5, cliff x/Le 0.1, 0.5, 1, 2, 3.5
    (0.1, 0.8385, 0.2351, 0.3648, 0.8561, 0.5101, 0.3550, 0.1962, 0.0654),
    (0.5, 0.4125, 0.1369, 0.2122, 0.4234, 0.4258, 0.3498, 0.2275, 0.0949),
    (1.0, 0.2119, 0.0802, 0.1255, 0.1971, 0.1882, 0.1606, 0.1186, 0.0743),
    (1.5, 0.1167, 0.0461, 0.0737, 0.1010, 0.0908, 0.0771, 0.0578, 0.0382),
    (2.0, 0.0658, 0.0249, 0.0410, 0.0600, 0.0626, 0.0482, 0.0244, 0.0),
]


@pytest.mark.parametrize("row", GRID, ids=[str(r[0]) for r in GRID])
def test_location_factor_grid(row: tuple[float, ...]) -> None:
    zeta, crest, before, hill, *cliff = row
    z = np.array([zeta])
    assert wind.upwind_location(np.zeros(1), z)[0] == pytest.approx(crest, abs=1e-4)
    assert wind.upwind_location(np.array([-0.5]), z)[0] == pytest.approx(before, abs=1e-4)
    assert wind.hill_location(np.array([0.5]), z)[0] == pytest.approx(hill, abs=1e-4)
    x = np.array([0.1, 0.5, 1.0, 2.0, 3.5])
    np.testing.assert_allclose(wind.cliff_location(x, np.full(5, zeta)), cliff, atol=1e-4)


# EN 1991-1-4 Annex A.3, worked values of reference/physics.md section 2.2.
CO = [
    (wind.Crest(50, 100, 0, 0), -50, 10, 1.1491),
    (wind.Crest(50, 100, 0, 0), 0, 10, 1.5424),
    (wind.Crest(50, 100, 0, 0), 20, 10, 1.4907),
    (wind.Crest(50, 100, 0, 0), 100, 10, 1.2818),
    (wind.Crest(50, 100, 0, 0), 100, 30, 1.3632),
    (wind.Crest(30, 300, 0, 0), 0, 10, 1.1901),
    (wind.Crest(40, 20, 0, 0), 0, 20, 1.4582),
    (wind.Crest(40, 20, 0, 0), 30, 20, 1.4455),
    (wind.Crest(50, 200, 50, 200), 0, 10, 1.4606),
    (wind.Crest(50, 200, 50, 200), 100, 10, 1.1956),
]


@pytest.mark.parametrize(("crest", "x", "z", "co"), CO)
def test_orography_factor(crest: wind.Crest, x: float, z: float, co: float) -> None:
    got = wind.orography_factor(np.array([float(x)]), np.array([float(z)]), crest)[0]
    assert got == pytest.approx(co, abs=1e-4)


def test_orography_factor_of_many_edges_at_once() -> None:
    crests = wind.Crest(
        *(np.array(part, dtype=float) for part in zip(*(c[0] for c in CO), strict=True))
    )
    x, z, co = (np.array(part, dtype=float) for part in list(zip(*CO, strict=True))[1:])
    np.testing.assert_allclose(wind.orography_factor(x, z, crests), co, atol=1e-4)


@pytest.mark.parametrize(("crest", "x", "z", "co"), CO)
def test_orography_factor_from_the_profile_of_the_ground(
    crest: wind.Crest, x: float, z: float, co: float
) -> None:
    """The same values again, the edge being found in the ground first, seen from the point."""
    steps = np.arange(-600.0, 301.0, 5.0)
    rise, upwind, fall, downwind = (float(part) for part in crest)
    corners = [-upwind, 0.0, downwind or 1e-9]
    ground = np.interp(steps + x, corners, [0.0, rise, rise - fall])
    found = edges.find(ground[None], 5.0, 120)
    shape = wind.Crest(*(np.asarray(part)[0] for part in found.shape))
    got = wind.orography_factor(-found.crest_m[0], np.array([float(z)]), shape)[0]
    assert got == pytest.approx(co, abs=1e-4)


def test_cliff_factor_stays_near_an_independent_guideline() -> None:
    # Taylor and Lee 1984 for an escarpment: 1 + 0.8 h/L exp(-2.5 z/L), h/L = 50/50, z = 10:
    # 1.485 (from memory, high confidence). Two methods, so only the size must agree.
    got = wind.orography_factor(np.zeros(1), np.array([10.0]), wind.Crest(50, 100, 0, 0))[0]
    assert got == pytest.approx(1 + 0.8 * np.exp(-2.5 * 10 / 50), rel=0.05)


@pytest.mark.parametrize("level", [1.0, 1.25])
def test_gust_at_the_crest_keeps_its_spread(level: float) -> None:
    # EN 1991-1-4 (4.6): the standard deviation has no orography factor. Mean 7 gusting 11 at
    # co 1.5424 over even ground: the mean gains 3.80, and so does the gust. At another height the
    # mean of even ground, `level` times the forecast's, is lifted; the spread is unchanged.
    co, mean, gust = 1.5424, 7.0, 11.0
    air = Air(*(np.array(v) for v in (level * co, co, 0.0, False, 0.0, 0.0, 0.0, np.inf)))
    flown = Local(np.array(level * co), 1.0, air).gust_m_s(mean, gust)
    even = level * mean + (gust - mean)
    assert float(flown) == pytest.approx(even + (co - 1.0) * level * mean, abs=1e-12)


# Wind triangle: reference/physics.md section 3.3 (derived), as on any flight computer.
TRIANGLE = [(90, 100, 30, 20, 88.49), (0, 12, 90, 6, 10.392), (90, 15, 45, 8, 8.236)]


@pytest.mark.parametrize(("track", "tas", "wind_from", "w", "gs"), TRIANGLE)
def test_wind_triangle(track: float, tas: float, wind_from: float, w: float, gs: float) -> None:
    rad = np.radians(wind_from)
    toward = -w * np.array([np.sin(rad), np.cos(rad), 0.0])
    got = wind.ground_speed(np.radians(np.array(track)), np.array(tas), toward)
    assert float(got) == pytest.approx(gs, abs=5e-3)
    flown = float(got) * np.array([np.sin(np.radians(track)), np.cos(np.radians(track)), 0.0])
    assert float(wind.airspeed_needed(flown, toward)) == pytest.approx(tas, abs=1e-9)


def test_a_crosswind_stronger_than_the_aircraft_is_not_flown() -> None:
    toward = np.array([13.0, 0.0, 0.0])
    assert np.isnan(wind.ground_speed(np.array(0.0), np.array(12.0), toward))


# WMO Beaufort scale (10-minute mean at 10 m), class limits in m/s.
@pytest.mark.parametrize(
    ("speed", "number"),
    [
        (0.0, 0),
        (0.3, 1),
        (1.6, 2),
        (3.3, 2),
        (3.4, 3),
        (5.5, 4),
        (8.0, 5),
        (10.7, 5),
        (10.8, 6),
        (13.9, 7),
        (17.2, 8),
        (32.7, 12),
        (60.0, 12),
    ],
)
def test_beaufort_limits(speed: float, number: int) -> None:
    assert wind.beaufort(speed)[0] == number
