"""What is kept on a scene is kept for that weather alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from shotplan.scene.wind_limits import wind_limits
from tests.worlds import staged


def test_asked_twice_it_is_worked_out_once_and_anew_in_another_weather(tmp_path: Path) -> None:
    scene = staged(tmp_path)
    limits = wind_limits(scene)
    assert wind_limits(scene) is limits
    rough = replace(scene.day.weather, roughness="IV")
    other = wind_limits(scene.in_weather(rough))
    assert other != limits
    alone = replace(scene, day=replace(scene.day, weather=rough))
    assert other == wind_limits(alone)
    assert wind_limits(scene) is limits
