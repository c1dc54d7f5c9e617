"""People near a flight: how far out they must be seen, and bounds of where it comes down."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shotplan.scene.falls import drag_area_m2
from shotplan.scene.holding import CALLS, PASSERS, call_distance_m
from tests import worlds

# The project's own setting, 30 m + v·10.25 s: 42 m for a walker, 61 m for a runner, 93 m for a
# bicycle at the 85th percentile of FHWA-HRT-04-103 (22 km/h, at second hand).
ROWS = {"walkers": 42, "runners": 61, "bicycles": 93}


def test_how_far_out_people_must_be_seen() -> None:
    assert {who: round(call_distance_m(speed)) for who, speed in PASSERS} == ROWS
    assert call_distance_m(0.0) == 30.0
    assert "walkers 42 m, runners 61 m and bicycles 93 m" in CALLS


def test_bicycles_go_at_the_85th_percentile() -> None:
    # FHWA-HRT-04-103, 85th percentile of bicycles: 22 km/h (at second hand).
    assert dict(PASSERS)["bicycles"] * 3.6 == pytest.approx(22.0)


def test_the_ballistic_buffer_bounds_the_fall_with_drag() -> None:
    # JARUS SORA 2.5 Annex A, multirotor: V0 = 10 m/s from H_CV = 113.1 m, CD = 1.5 m: 48.77 m
    # (V0·√(2H/g) + CD/2, without drag and wind; at second hand).
    buffer, half = 48.77, 0.75
    speed, height = np.array([[10.0, 0.0, 0.0]]), np.array([113.1])
    free = worlds.level_fall(speed, height, 10.0, 0.0, np.zeros(3))
    # 9.81 there, 9.80665 here: 0.02 %.
    assert free.xyz_m[0, 0] + half == pytest.approx(buffer, abs=0.02)
    for mass, span in ((0.249, 0.36), (0.9, 0.55), (10.0, 1.5)):
        for coefficient in (0.7, 1.0):
            area = drag_area_m2(span, coefficient)
            landed = worlds.level_fall(speed, height, mass, area, np.zeros(3))
            assert landed.xyz_m[0, 0] + half < buffer


def test_the_drag_area_is_that_of_the_fall_table() -> None:
    # reference/physics.md section 7, row 3: 0.249 kg, C_d 0.9, A 0.015 m² for a span of 0.36 m;
    # terminal speed 17.19 m/s.
    area = drag_area_m2(0.36, 0.9)
    assert area == pytest.approx(0.9 * 0.015, rel=0.001)
    assert math.sqrt(2 * 0.249 * 9.80665 / (1.225 * area)) == pytest.approx(17.19, abs=0.02)


def test_energy_of_the_fall_table() -> None:
    # reference/physics.md section 7: 0.249 kg from 30 m at 8 m/s lands with 15.97 m/s: 31.8 J.
    landed = worlds.level_fall(
        np.array([[8.0, 0.0, 0.0]]), np.array([30.0]), 0.249, 0.0135, np.zeros(3)
    )
    assert 0.5 * 0.249 * landed.speed_m_s[0] ** 2 == pytest.approx(31.8, abs=0.2)
