"""Light: the pack's limits by the sun, visibility, what the eyes and the picture get."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest

from shotplan.checks.light import CHECK
from shotplan.flying import stage_scene
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.rules import DayRule, LimitRule, Source
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.scene.scene import Scene
from tests import worlds

Need = Literal["any", "light", "no"]
SOURCE = Source(document="a book", clause="1", read_on="2026-11-25", known="memory")
# The sun sets at 20:58 on 20 June in 46° north, 14° east; it is at -6° at 21:34.


def scene(folder: Path, clock: str = "14:00", features: worlds.Features = (), **site: Any) -> Scene:
    start = datetime.fromisoformat(f"2026-06-20T{clock}:00+02:00")
    given = {"start": start, **site}
    outing = read(worlds.write_site(folder, site=given, features=features))
    return stage_scene(outing, outing.shots[0], start)


def ruled(staged: Scene, night: Need, twilight: Need, light: str = "") -> Scene:
    rule = DayRule(
        night=night, twilight=twilight, twilight_is="sun-6-deg", source=SOURCE, light=light
    )
    return replace(staged, rules=replace(staged.rules, day=rule))


def found(staged: Scene) -> Finding:
    return judging.find(CHECK, staged)


def remark(finding: Finding, part: str) -> str:
    (text,) = [r.text for r in finding.remarks if part in r.text]
    return text


@pytest.mark.parametrize(
    ("night", "twilight", "clock", "verdict"),
    [
        ("no", "no", "14:00", Verdict.GO),
        ("no", "no", "20:56", Verdict.GO),
        ("no", "no", "21:05", Verdict.NO_GO),
        ("no", "any", "23:00", Verdict.NO_GO),
        ("any", "any", "23:00", Verdict.GO),
    ],
)
def test_day_twilight_and_night_as_the_pack_has_it(
    tmp_path: Path, night: Need, twilight: Need, clock: str, verdict: Verdict
) -> None:
    staged = replace(scene(tmp_path, clock), aircraft=scene(tmp_path / "b").aircraft)
    eyeless = replace(staged.aircraft, senses=(), least_light_lux=())
    assert found(replace(ruled(staged, night, twilight), aircraft=eyeless)).verdict == verdict


@pytest.mark.parametrize(
    ("twilight", "clock", "verdict"),
    [
        ("any", "21:20", Verdict.GO),
        ("light", "21:20", Verdict.CAUTION),
        ("light", "23:00", Verdict.CAUTION),
    ],
)
def test_where_the_pack_wants_a_lamp_it_is_named(
    tmp_path: Path, twilight: Need, clock: str, verdict: Verdict
) -> None:
    staged = scene(tmp_path, clock, aircraft={"class": "unsensed"})
    got = found(ruled(staged, "light", twilight, "a green flashing light"))
    assert got.verdict == verdict
    if verdict == Verdict.CAUTION:
        assert "wants a green flashing light on the aircraft" in got.reason
        assert got.advice.startswith("carry it, or start the shot not before ")
    unnamed = found(ruled(staged, "light", "light"))
    assert "the light that a book, 1" in unnamed.reason


def test_value_and_limit_are_degrees(tmp_path: Path) -> None:
    got = found(ruled(scene(tmp_path), "no", "any"))
    assert (got.unit, got.limit) == ("°", -6.0)
    # 46° north on 20 June: highest 67.4° at 13:05; an hour later some 3° less.
    assert got.value == pytest.approx(64.6, abs=1.0)
    assert got.value is not None
    assert got.margin == pytest.approx(got.value + 6.0)


def test_the_advised_start_is_the_last_that_is_go(tmp_path: Path) -> None:
    late = found(ruled(scene(tmp_path, "22:30"), "no", "any"))
    clock = late.advice.split("at ")[1].split(" ")[0]
    eyes: dict[str, Any] = {"aircraft": {"class": "unsensed"}}
    good = found(ruled(scene(tmp_path / "a", clock, **eyes), "no", "any"))
    assert good.verdict == Verdict.GO
    after = datetime.strptime(clock, "%H:%M") + timedelta(minutes=1)
    bad = found(ruled(scene(tmp_path / "b", f"{after:%H:%M}", **eyes), "no", "any"))
    assert bad.verdict == Verdict.NO_GO


def test_visibility_is_asked_only_where_the_pack_asks(tmp_path: Path) -> None:
    bare = scene(tmp_path)
    assert len(CHECK.margins(bare)) == 1
    rule = LimitRule(value=4828.03, source=SOURCE)

    def seeing(metres: float | None) -> Finding:
        weather = replace(bare.day.weather, visibility_m=metres)
        day = replace(bare.day, weather=weather)
        return found(replace(bare, day=day, rules=replace(bare.rules, least_visibility_m=rule)))

    assert seeing(4829.0).verdict == Verdict.GO
    hazy = seeing(4800.0)
    assert (hazy.verdict, hazy.value, hazy.unit) == (Verdict.NO_GO, 4800.0, "m")
    unknown = seeing(None)
    assert unknown.verdict == Verdict.UNKNOWN
    (limit,) = unknown.go_if
    assert (limit.key, limit.bound, limit.value) == ("weather.visibility_m", "at-least", 4829.0)


def test_eyes_that_get_too_dark_are_a_caution_with_a_time(tmp_path: Path) -> None:
    # 300 lx are left with the sun at -1.1°: some minutes after sunset.
    assert not [r for r in found(scene(tmp_path / "a", "20:55")).remarks if r.caution]
    dark = found(scene(tmp_path / "b", "21:10"))
    (said,) = [r for r in dark.remarks if r.caution]
    assert "its eyes that look ahead and behind and down need 300 lx" in said.text
    assert dark.verdict == Verdict.CAUTION
    clock = said.advice.split("and at ")[1].split(" ")[0]
    assert "20:55" <= clock <= "21:05"
    assert not [r for r in found(scene(tmp_path / "c", clock)).remarks if r.caution]


def test_light_on_the_rider_as_filmed(tmp_path: Path) -> None:
    # At 18:30 the sun is in the west (280°), 24° high: riding north, filmed from the west
    # the camera has it behind, from the east before it.
    west = found(scene(tmp_path / "a", "18:30"))
    assert "front light all the way" in remark(west, "as filmed")
    east = {**worlds.SIDE_TRACK, "side": "right"}
    assert "back light all the way" in remark(
        found(scene(tmp_path / "b", "18:30", shot=[east])), "as filmed"
    )


def test_golden_hour_says_its_convention_and_whether_the_shot_is_in_it(tmp_path: Path) -> None:
    noon = remark(found(scene(tmp_path / "a")), "golden hour")
    assert noon.startswith("golden hour (sun 0 to 6° high, a convention): ")
    assert noon.endswith("this shot is outside it")
    assert remark(found(scene(tmp_path / "b", "20:30")), "golden hour").endswith("is in it")


def test_the_long_shadow_of_a_tree_over_the_path(tmp_path: Path) -> None:
    # At 20:00 the sun is 8.5° high in 296°: a tree of 15 m, 60 m upwind of the light.
    staged = scene(tmp_path / "a", "20:00")
    azimuth, elevation = (float(v[0]) for v in staged.sun_rad)
    oak = worlds.tree(
        "oak", east_m=60.0 * np.sin(azimuth), north_m=60.0 * np.cos(azimuth), height_m=15.0
    )
    text = remark(found(scene(tmp_path / "b", "20:00", features=[oak])), "the rider is in")
    assert "direct sun 0 to " in text
    assert "shade of oak " in text
    # Its shadow is as long as the sun is low (the first digits; it grows while he rides).
    throws = float(text.split("throws ")[1].split(" m")[0])
    assert throws == pytest.approx(15.0 / np.tan(elevation), rel=0.03)


def test_nothing_known_of_the_ground_is_never_go(tmp_path: Path) -> None:
    staged = worlds.staged(tmp_path, terrain=None)
    assert found(ruled(staged, "no", "no")).verdict == Verdict.UNKNOWN
