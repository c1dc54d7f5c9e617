from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import aircraft
from shotplan.aircraft.schema import SensesTable
from shotplan.errors import Problems
from shotplan.files.bundled import aircraft_files
from shotplan.model.aircraft import Aircraft

WHERE = "site.toml: [aircraft]"


def load(folder: Path, **raw: Any) -> tuple[Aircraft | None, list[str]]:
    problems = Problems()
    made = aircraft.load(raw, folder, WHERE, problems)
    return made, [str(p) for p in problems.found]


def test_folding_light_is_the_one_the_formats_print() -> None:
    # FORMATS.md, "Aircraft TOML"
    light = aircraft.read_class("folding-light")
    assert (light.mass_kg, light.span_m, light.half_span_m) == (0.249, 0.36, 0.18)
    assert light.limits == (12.0, 4.0, 3.0, 4.0)
    assert light.max_tilt_rad == pytest.approx(math.radians(30))
    assert light.max_yaw_rad_s == pytest.approx(math.radians(90))
    assert (light.max_wind_m_s, light.follows_by) == (10.0, "sight")
    assert (light.sight_sigma_m, light.position_sigma_m) == (0.4, 1.5)
    assert (light.response_delay_s, light.response_rad_s) == (0.5, 0.9)
    assert (light.reaction_s, light.brake_m_s2) == (1.0, 4.0)
    assert light.camera_turns_freely is False
    assert (light.hover_w, light.battery_wh, light.reserve_fraction) == (38.0, 18.0, 0.3)
    assert (light.link_mhz, light.link_range_m) == (2400.0, 2000.0)
    assert light.camera.horizontal_fov_rad == pytest.approx(math.radians(71.6))
    assert light.camera.aspect == pytest.approx(16 / 9)
    assert (light.camera.frame_width_px, light.camera.fps) == (3840, 30.0)
    assert light.camera.tilt_min_rad == pytest.approx(math.radians(-90))
    assert light.camera.tilt_max_rad == pytest.approx(math.radians(60))
    assert [s.looks for s in light.senses] == ["around", "around", "below"]
    assert np.degrees([s.from_rad for s in light.senses[:2]]) == pytest.approx([-45, 150])
    assert np.degrees([s.to_rad for s in light.senses[:2]]) == pytest.approx([45, 210])
    assert [s.range_m for s in light.senses] == [25.0, 25.0, 10.0]
    assert [s.works_to_m_s for s in light.senses] == [10.0, 10.0, 4.0]
    assert light.least_light_lux == (300.0, 300.0, 300.0)


@pytest.mark.parametrize(
    ("name", "free"),
    [
        ("folding-light", "ahead behind below"),
        ("folding-all-round", "ahead behind right left below above"),
        ("unsensed", ""),
    ],
)
def test_which_way_a_class_is_blind(name: str, free: str) -> None:
    ways = {
        "ahead": (0, 1, 0),
        "behind": (0, -1, 0),
        "right": (1, 0, 0),
        "left": (-1, 0, 0),
        "below": (0, 0, -1),
        "above": (0, 0, 1),
    }
    velocity_m_s = 2.0 * np.array(list(ways.values()), dtype=float)
    blind = aircraft.read_class(name).blind(velocity_m_s, np.zeros(len(ways)))
    assert [w for w, b in zip(ways, blind, strict=True) if not b] == free.split()


@pytest.mark.parametrize("name", sorted(aircraft_files()))
def test_every_class_is_named_like_its_file_and_says_it_is_generic(name: str) -> None:
    one = aircraft.read_class(name)
    assert one.name == name
    assert "Generic typical values: check against your aircraft's manual" in one.describes
    assert one.mass_kg == (0.9 if name == "folding-all-round" else one.mass_kg)
    with pytest.raises(KeyError):
        aircraft.read_class(name + "x")


def test_keys_of_the_site_override_in_any_unit(tmp_path: Path) -> None:
    made, said = load(
        tmp_path,
        **{"class": "folding-light"},
        battery_wh=20,
        mass_lb=1,
        link_range_m=4000,
        camera={"fps": 60},
        senses=[{"looks": "above", "range_ft": 10, "works_to_mph": 5, "least_light_lux": 0}],
    )
    assert said == []
    assert made is not None
    assert (made.battery_wh, made.link_range_m, made.camera.fps) == (20.0, 4000.0, 60.0)
    assert made.mass_kg == 0.45359237
    assert made.camera.frame_width_px == 3840
    assert [s.looks for s in made.senses] == ["above"]
    assert made.senses[0].range_m == pytest.approx(3.048)


def test_an_own_file(tmp_path: Path) -> None:
    text = aircraft_files()["unsensed"].read_text()
    (tmp_path / "mine.toml").write_text(text.replace("mass_kg = 0.5", "mass_lb = 2.0"))
    made, said = load(tmp_path, **{"class": "mine.toml"}, mass_kg=0.6)
    assert said == []
    assert made is not None
    assert made.mass_kg == 0.6


def test_problems_of_an_own_file_name_that_file(tmp_path: Path) -> None:
    text = aircraft_files()["unsensed"].read_text()
    text = re.sub(r"^span_m.*$", "sapn_m = 0.4", text, flags=re.MULTILINE)
    (tmp_path / "mine.toml").write_text(text)
    made, said = load(tmp_path, **{"class": "mine.toml"})
    assert made is None
    assert said == [
        'mine.toml: "sapn_m" is not a key known here; did you mean "span_m"?',
        "mine.toml: span_m is missing; wanted a number at least 0.01 and at most 10",
    ]


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        ({}, ": no aircraft is named; write [aircraft] class = one of "),
        ({"class": 5}, ": class: got 5; wanted a bundled class or a path"),
        ({"class": ""}, ': class: got ""; wanted a bundled class or a path'),
        ({"class": "folding-ligth"}, ': class: got "folding-ligth"; wanted "folding-all-round", '),
        ({"class": "no.toml"}, ": class: there is no such file"),
        ({"span": 1}, ': "span" is not a key known here; did you mean "span_m"?'),
        ({"span_m": 0}, ": span_m: got 0; wanted a number at least 0.01"),
        ({"mass_kg": 1, "mass_lb": 1}, ": mass_kg and mass_lb say the same thing"),
        ({"format": 2}, ": format: got 2; wanted 1"),
        ({"max_tilt_deg": 90}, ": max_tilt_deg: got 90; wanted a number at least 1 and at most 89"),
        ({"reserve_fraction": 30}, ": reserve_fraction: got 30; wanted a number at least 0 and at"),
        ({"follows_by": "sigth"}, ': follows_by: got "sigth"; wanted "sight" or "beacon"; did you'),
        ({"camera": {"aspect": 1.78}}, ": camera: aspect: got 1.78; wanted a ratio as text"),
        ({"camera": {"tilt_min_deg": 70}}, ": camera: tilt_min_deg is 70 and tilt_max_deg 60"),
        ({"camera": 3}, ": camera: got 3; wanted a table"),
        ({"senses": 3}, ": senses: got 3; wanted a list, each a table"),
        (
            {
                "senses": [
                    {"looks": "around", "range_m": 1, "works_to_m_s": 1, "least_light_lux": 1}
                ]
            },
            ': senses 1: looks "around" needs from_deg and to_deg',
        ),
    ],
)
def test_what_is_wrong_is_said(tmp_path: Path, raw: dict[str, Any], message: str) -> None:
    named = raw if not raw or "class" in raw else {"class": "folding-light", **raw}
    made, said = load(tmp_path, **named)
    assert made is None
    assert len(said) == 1
    assert said[0].startswith(WHERE + message)


def senses(**more: Any) -> SensesTable:
    return SensesTable(range_m=25.0, works_to_m_s=10.0, least_light_lux=300.0, **more)


@pytest.mark.parametrize(
    ("ends_deg", "wanted_deg"),
    [
        ((-45, 45), (-45, 45)),
        ((315, 45), (315, 405)),
        ((-180, 180), (-180, 180)),
        ((0, 360), (0, 360)),
    ],
)
def test_sectors_run_clockwise(
    ends_deg: tuple[float, float], wanted_deg: tuple[float, float]
) -> None:
    sector = senses(looks="around", from_deg=ends_deg[0], to_deg=ends_deg[1]).made()
    assert np.degrees([sector.from_rad, sector.to_rad]) == pytest.approx(wanted_deg)


def test_sectors_that_make_no_sense() -> None:
    with pytest.raises(ValueError, match="both 10, a sector without width"):
        senses(looks="around", from_deg=10.0, to_deg=10.0)
    with pytest.raises(ValueError, match='looks "below" takes no from_deg and to_deg'):
        senses(looks="below", from_deg=10.0)


def test_the_files_are_plain_toml_with_a_comment_that_says_what_they_are() -> None:
    for path in aircraft_files().values():
        text = path.read_text(encoding="utf-8")
        assert text.startswith("# Generic typical values (common practice)")
        assert tomllib.loads(text)["format"] == 1
