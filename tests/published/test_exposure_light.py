"""Exposure against ISO 2720 (APEX), and how bright it is by the sun's height."""

from __future__ import annotations

import numpy as np
import pytest

from shotplan.kernels.light import camera, light


@pytest.mark.parametrize(
    ("f_number", "shutter_s", "value"),
    # ISO 2720: EV = lg2(N²/t), ISO 100 (physics reference 4.3, computed).
    [(16.0, 1 / 125, 14.966), (16.0, 1 / 100, 14.64), (2.8, 1 / 50, 8.615)],
)
def test_exposure_values(f_number: float, shutter_s: float, value: float) -> None:
    got = light.camera_exposure_value(f_number, shutter_s)
    assert got == pytest.approx(value, abs=0.005)  # as printed
    # EV_S = EV100 + lg2(S/100): at ISO 400 the same setting is two stops less light.
    assert light.camera_exposure_value(f_number, shutter_s, 400.0) == pytest.approx(got - 2.0)


def test_full_sun_is_ev_15() -> None:
    # ISO 2720 with C = 250 lx: E = 2.5 · 2^EV, so EV 15 is 81,920 lx.
    assert float(light.exposure_value(np.array(81_920.0))) == pytest.approx(15.0, abs=1e-9)


@pytest.mark.parametrize(
    ("f_number", "shutter_s", "stops", "factors"),
    # Physics reference 4.3 (computed): stops from EV 15 to the setting, and the filter.
    [
        (2.8, 1 / 50, 6.39, {64}),
        (1.7, 1 / 60, 7.56, {128, 256}),
        (2.8, 1 / 60, 6.12, {64}),
    ],
)
def test_filters(f_number: float, shutter_s: float, stops: float, factors: set[int]) -> None:
    got = 15.0 - light.camera_exposure_value(f_number, shutter_s)
    assert got == pytest.approx(stops, abs=0.005)
    assert camera.filter_for(got) in factors


@pytest.mark.parametrize(
    ("factor", "stops"),
    # Stops of neutral-density filters, lg2 N (physics reference 4.3).
    [(4, 2.0), (8, 3.0), (16, 4.0), (32, 5.0), (64, 6.0), (128, 7.0), (256, 8.0), (512, 9.0),
     (1000, 9.966)],
)  # fmt: skip
def test_a_filter_takes_its_own_stops(factor: int, stops: float) -> None:
    assert camera.filter_for(stops) == factor
    assert float(light.darker(np.array(1000.0), stops)) == pytest.approx(1000.0 / factor, rel=1e-3)


def test_little_light_wants_no_filter() -> None:
    assert camera.filter_for(0.4) == 1
    assert camera.filter_for(-3.0) == 1


@pytest.mark.parametrize(
    ("fps", "shutter_s"),
    # 180° rule, common practice: 1/48 at 24, 1/50 at 25, 1/60 at 30, 1/100 at 50, 1/120 at 60.
    [(24, 1 / 48), (25, 1 / 50), (30, 1 / 60), (50, 1 / 100), (60, 1 / 120)],
)
def test_shutter(fps: float, shutter_s: float) -> None:
    assert camera.shutter_s(fps) == pytest.approx(shutter_s)


@pytest.mark.parametrize(
    ("degrees", "lux"),
    # Sunset about 400 lx, end of civil twilight 3.4 lx, full sun about 100,000 lx: from memory.
    [(-0.8333, 400.0), (-6.0, 3.4), (60.0, 100_000.0)],
)
def test_light_at_the_remembered_heights(degrees: float, lux: float) -> None:
    got = float(light.lux(np.array(np.radians(degrees))))
    assert got == pytest.approx(lux, rel=0.03)
    assert light.elevation_deg(got) == pytest.approx(degrees, abs=1e-6)


@pytest.mark.parametrize("degrees", [5.0, 10.0, 20.0, 30.0, 45.0, 60.0, 90.0])
def test_the_table_is_the_clear_sky_it_cites(degrees: float) -> None:
    # E = 127.5 klx exp(-0.21 / sin) sin + 0.8 klx + 15.5 klx sqrt(sin): the lighting engineers'
    # clear sky, from memory; the table is rounded to three figures.
    sine = np.sin(np.radians(degrees))
    wanted = 127_500.0 * np.exp(-0.21 / sine) * sine + 800.0 + 15_500.0 * np.sqrt(sine)
    assert float(light.lux(np.array(np.radians(degrees)))) == pytest.approx(wanted, rel=0.01)
