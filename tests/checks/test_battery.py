"""Battery: energy that can be worked out by hand, limits that hold, advice that works."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.checks.battery import CHECK
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.kernels.motion import power
from shotplan.model.verdict import Verdict
from shotplan.scene import energy
from shotplan.scene.scene import Scene
from tests import worlds

# The ride goes 200 m north at 6 m/s, the camera 12 m to its left and 6 m up, the launch 30 m to
# its right.
CALM = {"wind_m_s": 0.0, "wind_from_deg": 0.0, "gust_m_s": 0.0, "temperature_c": 15.0}


def scene(folder: Path, without: tuple[str, ...] = (), **site: Any) -> Scene:
    site = {"return_height_m": None, **site}
    return worlds.staged(folder, site=site, without=without)


def found(staged: Scene) -> Finding:
    return judging.find(CHECK, staged)


def flown(staged: Scene) -> energy.Flight:
    air = energy.air_of(staged)
    assert air is not None
    flight = energy.flight_of(staged, air)
    assert flight is not None
    return flight


def hover_w(staged: Scene, temperature_c: float = 15.0) -> float:
    """Hover power in the air over the launch: it grows as density to the -1/2."""
    density = power.air_density_kg_m3(worlds.GROUND_M, temperature_c)
    return float(staged.aircraft.hover_w * (power.SEA_LEVEL_KG_M3 / density) ** 0.5)


def test_carried_by_the_wind_it_only_hovers(tmp_path: Path) -> None:
    # The wind blows along the ride at the rider's speed: no speed through the air.
    wind = {**CALM, "wind_m_s": 6.0, "wind_from_deg": 180.0, "gust_m_s": 6.0}
    staged = scene(tmp_path, weather=wind)
    seconds = float(np.ptp(staged.track.ride.t_s))
    assert flown(staged).shot_wh == pytest.approx(hover_w(staged) * seconds / 3600.0, rel=1e-6)


def test_ways_are_climb_level_and_descent(tmp_path: Path) -> None:
    staged = scene(tmp_path, weather=CALM, return_height_m=40.0)
    craft, flight = staged.aircraft, flown(staged)
    assert flight.wait_w == pytest.approx(hover_w(staged), rel=1e-9)
    away = np.hypot(12.0 + 30.0, 100.0 + 3.0)  # 3 m behind abeam of the first metre
    out = 40.0 / craft.max_climb_m_s + away / craft.max_speed_m_s + 34.0 / craft.max_sink_m_s
    assert flight.out_s == pytest.approx(out, abs=0.01)
    lift_w = craft.mass_kg * 9.80665 * craft.max_climb_m_s / 0.5
    joules = (hover_w(staged) + lift_w) * 40.0 / craft.max_climb_m_s
    joules += hover_w(staged) * 34.0 / craft.max_sink_m_s
    density = power.air_density_kg_m3(worlds.GROUND_M, 15.0)
    rotor = power.scaled(craft.hover_w, craft.mass_kg, power.disc_area_m2(craft.span_m), density)
    cruise_w = float(power.level_flight_w(np.array(craft.max_speed_m_s), rotor))
    joules += cruise_w * away / craft.max_speed_m_s
    assert flight.out_wh == pytest.approx(joules / 3600.0, rel=1e-3)


def test_without_a_return_height_it_flies_home_at_its_own(tmp_path: Path) -> None:
    staged = scene(tmp_path, weather=CALM)
    craft, flight = staged.aircraft, flown(staged)
    away = np.hypot(12.0 + 30.0, 97.0)
    home = away / craft.max_speed_m_s + 6.0 / craft.max_sink_m_s
    assert flight.home_s == pytest.approx(home, abs=0.05)


def test_home_against_the_wind_costs_more(tmp_path: Path) -> None:
    def home(from_deg: float, gust: float) -> energy.Flight:
        wind = {**CALM, "wind_m_s": 5.0, "wind_from_deg": from_deg, "gust_m_s": gust}
        return flown(scene(tmp_path / f"{from_deg}-{gust}", weather=wind))

    # The last metre is to the north and west of the launch: home is south by east.
    against, along = home(157.0, 5.0), home(337.0, 5.0)
    assert against.home_s > 2.0 * along.home_s
    assert against.home_wh > 2.0 * along.home_wh
    gusty = home(157.0, 9.0)
    assert gusty.home_wh == pytest.approx(against.home_wh)
    assert gusty.gusty_wh[-1] > against.gusty_wh[-1]
    # Flying at 12 m/s straight against 9 m/s makes good 3 m/s.
    level_s = np.hypot(42.0, 97.0) / 3.0
    assert home(157.0, 9.0).gusty_wh[-1] - gusty.need_wh[-1] == pytest.approx(
        (level_s - np.hypot(42.0, 97.0) / 7.0) * _cruise_w(scene(tmp_path / "c", weather=CALM))
        / 3600.0,
        rel=0.02,
    )  # fmt: skip


def _cruise_w(staged: Scene) -> float:
    craft = staged.aircraft
    density = power.air_density_kg_m3(worlds.GROUND_M, 15.0)
    area = power.disc_area_m2(craft.span_m)
    rotor = power.scaled(craft.hover_w, craft.mass_kg, area, density)
    return float(power.level_flight_w(np.array(craft.max_speed_m_s), rotor))


def test_need_never_falls_below_out_and_shot(tmp_path: Path) -> None:
    staged = scene(tmp_path)
    flight = flown(staged)
    assert (flight.gusty_wh >= flight.need_wh - 1e-12).all()
    assert float(flight.need_wh[-1]) == pytest.approx(flight.take_wh)
    result = found(staged)
    assert result.verdict == Verdict.GO
    assert result.value == pytest.approx(float(flight.need_wh.max()) / flight.usable_wh)


def test_the_cold_takes_a_share(tmp_path: Path) -> None:
    cold = flown(scene(tmp_path / "c", weather={**CALM, "temperature_c": -5.0}))
    warm = flown(scene(tmp_path / "w", weather=CALM))
    assert cold.usable_wh == pytest.approx(0.8 * warm.usable_wh)
    assert warm.usable_wh == pytest.approx(18.0 * 0.7)
    frost = found(scene(tmp_path / "f", weather={**CALM, "temperature_c": -11.0}))
    assert frost.verdict == Verdict.CAUTION
    assert "-10" in frost.advice


def test_a_battery_too_small_is_no_go_and_the_advice_cures_it(tmp_path: Path) -> None:
    small = {"class": "folding-light", "battery_wh": 0.65}
    result = found(scene(tmp_path / "a", aircraft=small))
    assert (result.verdict, result.family) == (Verdict.NO_GO, "harm")
    wanted = float(result.advice.split("a battery of ")[1].split(" Wh")[0])
    cured = {"class": "folding-light", "battery_wh": wanted}
    assert found(scene(tmp_path / "b", aircraft=cured)).verdict == Verdict.GO
    less = {"class": "folding-light", "battery_wh": wanted - 0.2}
    assert found(scene(tmp_path / "c", aircraft=less)).verdict != Verdict.GO
    end = float(result.advice.split("end the shot at ")[1].split(" m")[0])
    shot = [{**worlds.SIDE_TRACK, "to_m": end}]
    assert found(scene(tmp_path / "d", aircraft=small, shot=shot)).verdict != Verdict.NO_GO


def test_only_the_gust_makes_it_short_then_it_is_a_caution(tmp_path: Path) -> None:
    gusty = {"wind_m_s": 2.0, "wind_from_deg": 157.0, "gust_m_s": 11.9}
    small = {"class": "folding-light", "battery_wh": 8.0}
    result = found(scene(tmp_path, weather=gusty, aircraft=small))
    assert result.verdict == Verdict.CAUTION
    assert "gust" in result.reason


def test_a_wind_it_cannot_fly_against_is_no_go(tmp_path: Path) -> None:
    wind = {"wind_m_s": 13.0, "wind_from_deg": 157.0, "gust_m_s": 15.0}
    result = found(scene(tmp_path, weather=wind))
    assert result.verdict == Verdict.NO_GO
    assert "cannot come home" in result.reason


@pytest.mark.parametrize(
    "weather",
    [
        None,
        {"gust_m_s": None},
        {"wind_m_s": None},
        {"wind_from_deg": None},
        {"temperature_c": None},
        {"temperature_c": None, "gust_m_s": None},
    ],
)
def test_missing_weather_is_unknown_with_a_limit_that_holds(
    tmp_path: Path, weather: dict[str, Any] | None
) -> None:
    # Small enough for the temperature to matter.
    small = {"class": "folding-light", "battery_wh": 0.85}
    result = found(scene(tmp_path / "a", weather=weather, aircraft=small))
    assert result.verdict == Verdict.UNKNOWN
    (limit,) = result.go_if
    step = 0.1 if limit.bound == "at-most" else -0.2
    kept = {} if weather is None else weather
    for value, go in ((limit.value, True), (limit.value + step, False)):
        said = {k.split(".")[1]: v for k, v in limit.given}
        said[limit.key.split(".")[1]] = value
        usual = dict.fromkeys(worlds.SITE["weather"]) if weather is None else kept
        again = scene(tmp_path / str(value), weather={**usual, **said}, aircraft=small)
        assert (found(again).verdict == Verdict.GO) == go, (limit, value)


def test_what_cannot_be_enough_in_any_weather_is_no_go_without_one(tmp_path: Path) -> None:
    tiny = {"class": "folding-light", "battery_wh": 0.5}
    assert found(scene(tmp_path, weather=None, aircraft=tiny)).verdict == Verdict.NO_GO


def test_without_a_launch_it_is_unknown(tmp_path: Path) -> None:
    crew = [{"name": "Ada", "role": ["rider", "pilot"]}]
    result = found(scene(tmp_path, without=("launch",), crew=crew))
    assert result.verdict == Verdict.UNKNOWN
    assert "launch" in result.advice


def test_takes_after_sunset_are_a_caution_that_counts_them(tmp_path: Path) -> None:
    def at(hour: int, minute: int, name: str) -> Finding:
        start = datetime.fromisoformat(f"2026-06-20T{hour:02d}:{minute:02d}:00+02:00")
        shot = [{**worlds.SIDE_TRACK, "takes": 3}]
        return found(scene(tmp_path / name, start=start, shot=shot, rules="ca-basic", weather=CALM))

    early = at(14, 0, "a")
    assert early.verdict == Verdict.GO
    assert any("last take-off" in r.text for r in early.remarks)
    late = at(23, 30, "b")
    assert late.verdict == Verdict.CAUTION
    assert "0 of 3 takes" in late.reason
