"""Camera geometry against the optics every handbook prints (physics reference 4.1, computed)."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.light import camera

DIAGONAL_MM = 43.267  # of the 36 mm by 24 mm frame, to which focal lengths are quoted


@pytest.mark.parametrize(
    ("focal_mm", "wide", "high", "diagonal", "cropped"),
    # Degrees: across 36 mm, 24 mm, the diagonal, and 16:9 cut from 36 mm.
    [
        (24, 73.74, 53.13, 84.06, 45.75),
        (28, 65.47, 46.40, 75.38, 39.76),
        (35, 54.43, 37.85, 63.44, 32.27),
        (50, 39.60, 26.99, 46.79, 22.90),
        (70, 28.84, 19.46, 34.35, 16.46),
    ],
)
def test_fields_of_view(
    focal_mm: float, wide: float, high: float, diagonal: float, cropped: float
) -> None:
    for size, degrees in ((36.0, wide), (24.0, high), (DIAGONAL_MM, diagonal), (20.25, cropped)):
        assert camera.focal_px(size, np.radians(degrees)) == pytest.approx(focal_mm, rel=3e-4)


def test_24_mm_by_the_diagonal_of_4_to_3_is_71_6_degrees_wide() -> None:
    # "24 mm" on a 4:3 sensor: 71.59° across.
    focal_mm = camera.focal_px(0.8 * DIAGONAL_MM, np.radians(71.59))
    assert focal_mm == pytest.approx(24.0, abs=0.003)


FOCAL_PX = camera.focal_px(3840, np.radians(73.7398))


def test_focal_length_in_pixels() -> None:
    # 24 mm over 36 mm and 3840 px: 2560 px.
    assert pytest.approx(2560.0, abs=0.01) == FOCAL_PX


@pytest.mark.parametrize(("metres", "pixels"), [(10.0, 460.8), (20.0, 230.4)])
def test_a_rider_in_pixels(metres: float, pixels: float) -> None:
    # A subject of 1.8 m, 24 mm, 3840 px: 460.8 px at 10 m (21.3 % of 2160), 230.4 px at 20 m.
    got = float(camera.subject_px(FOCAL_PX, 1.8, np.array([0.0, metres, 0.0])))
    assert got == pytest.approx(pixels, abs=0.01)
    assert camera.SIZES[int(camera.size(np.array(got / 2160.0)))] == (
        "long" if metres == 10.0 else "very long"
    )


def test_tilt_to_a_subject() -> None:
    # 10 m down over 20 m: 26.565° down, 22.361 m away.
    way = np.array([20.0, 0.0, -10.0])
    assert np.degrees(camera.elevation_rad(way)) == pytest.approx(-26.565, abs=5e-4)
    assert np.linalg.norm(way) == pytest.approx(22.361, abs=5e-4)


def test_row_of_the_horizon() -> None:
    # Tilted 15° down the horizon shows 686 px over the middle: in a frame of 2160 rows.
    assert float(camera.horizon_px(FOCAL_PX, np.array(np.radians(-15.0)))) == pytest.approx(
        686.0, abs=0.5
    )
    # Tilted 26.6° it is out of it: half the field is 22.9°.
    assert float(camera.horizon_px(FOCAL_PX, np.array(np.radians(-26.6)))) > 1080.0


@pytest.mark.parametrize(("height_m", "degrees"), [(2.0, 0.0454), (50.0, 0.227), (120.0, 0.3517)])
def test_dip_of_the_horizon(height_m: float, degrees: float) -> None:
    # acos(R / (R + h)), no refraction.
    assert np.degrees(camera.dip_rad(np.array(height_m))) == pytest.approx(degrees, abs=5e-4)


def test_panning_past_a_subject() -> None:
    # Passing at 10 m/s, 10 m off: the camera pans at v/d = 57.3°/s at the nearest point.
    step = 0.001
    along = np.arange(-2.0, 2.0, step) * 10.0
    azimuth = np.arctan2(along, 10.0)
    rate = np.degrees(camera.pan_rad_s(azimuth, step, 2))
    assert rate.max() == pytest.approx(57.3, abs=0.01)
    # ω = v d / (d² + x²) everywhere.
    wanted = np.degrees(10.0 * 10.0 / (100.0 + along**2))
    np.testing.assert_allclose(rate[2:-2], wanted[2:-2], rtol=1e-4)


@pytest.mark.parametrize(("fov_deg", "limit_deg_s"), [(73.74, 10.5), (39.60, 5.7)])
def test_the_seven_second_rule(fov_deg: float, limit_deg_s: float) -> None:
    # Common practice: nothing crosses the frame in less than 7 s; 24 mm 10.5°/s, 50 mm 5.7°/s.
    got = np.degrees(camera.pan_limit_rad_s(np.radians(fov_deg)))
    assert got == pytest.approx(limit_deg_s, abs=0.05)


def test_an_error_of_place_moves_the_rider() -> None:
    # Feasible focal length, literature at second hand: 5 m at 15 m may take 30 % of 3840 px up to
    # f_px = 3456; with 24 mm the least distance is 11.1 m.
    assert float(camera.shift(3456.0, 5.0, np.array(15.0), 3840.0)) == pytest.approx(0.3)
    assert float(camera.shift(2560.0, 5.0, np.array(11.11), 3840.0)) == pytest.approx(0.3, abs=1e-4)
