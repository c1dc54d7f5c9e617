"""site.toml: what is refused, where, and how it is said."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.errors import BadInput
from shotplan.outing import Outing
from shotplan.outing import read as read_outing
from shotplan.site.roles import OTHER_WORDS, ROLES
from tests.worlds import SIDE_TRACK, SITE, feature, gpx_text, line, point, straight, write_site


def read(folder: Path, **site: Any) -> Outing:
    return read_outing(write_site(folder, site=site))


def wrong(folder: Path, **site: Any) -> str:
    with pytest.raises(BadInput) as caught:
        read(folder, **site)
    assert len(caught.value.problems) == 1, str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(
    ("site", "where", "said"),
    [
        ({"ride": {"speed_m_s": None, "speed_km_h": 300}}, "[ride]", "at most 45: check the unit"),
        ({"ride": {"speed_m_s": None}}, "[ride]", "give speed_m_s"),
        ({"ride": {"path": "lien"}}, "[ride]", 'did you mean "line"'),
        ({"ride": {"from_m": 50.0, "to_m": 40.0}}, "[ride]", "from_m 50 is not before to_m 40"),
        ({"ride": {"from_m": 400.0}}, "[ride]", "the ride is 200.0 m long"),
        ({"ride": {"overhead_m": 4.0}}, "[ride]", "overhead_m without clear_m"),
        ({"ride": {"error_m": 3.0, "error_ft": 9.0}}, "[ride]", "give only one"),
        (
            {"weather": {"wind_m_s": 80.0, "gust_m_s": 90.0}},
            "[weather]",
            "at least 0 and at most 75: check the unit",
        ),
        ({"weather": {"temperature_c": 281.0}}, "[weather]", "at most 60"),
        ({"weather": {"wind_from": "WSW"}}, "[weather]", "both given"),
        ({"weather": {"wind_from_deg": None, "wind_from": "SWW"}}, "[weather]", "wanted one of N"),
        ({"weather": {"gust_m_s": 1.0}}, "[weather]", "swapped?"),
        ({"weather": {"measured_at": "lunch"}}, "[weather]", 'did you mean "launch"'),
        ({"terrain": "terrain.tif"}, "site.toml", "both given"),
        ({"terrain_m": None, "terrain": "gone.tif"}, "gone.tif", "no such file"),
        ({"ride": {"path": "x" * 400}}, "[ride]", "no such file, and no line"),
        ({"keep_clear_m": -1.0}, "keep_clear_m", "at least 0"),
        ({"format": 2}, "format", "got 2"),
        ({"colour": "red"}, "site.toml", "not a key known"),
        ({"timezone": "Europe/Dublni"}, "timezone", "Europe/Dublin"),
        ({"country": "Ireland"}, "country", "two letters"),
        ({"aircraft": None}, "[aircraft]", "no aircraft is named"),
        ({"crew": [{"name": "Ada", "role": "ridder"}]}, "[[crew]] 1 (Ada)", "rider"),
        ({"crew": [{"name": "Ada", "role": "rider", "stands": "lunch"}]}, "Ada", "launch"),
        (
            {"crew": [{"name": "A", "role": "rider"}, {"name": "A", "role": "pilot"}]},
            "crew",
            "2 times",
        ),
        ({"shot": [SIDE_TRACK, SIDE_TRACK]}, "[[shot]]", "is given 2 times"),
        ({"shot": [{**SIDE_TRACK, "style": "side-trak"}]}, "(along)", 'did you mean "side-track"'),
        ({"shot": [{**SIDE_TRACK, "side": "toward:lunch"}]}, "(along)", 'did you mean "launch"'),
        ({"shot": [{**SIDE_TRACK, "stands": {"Boo": "launch"}}]}, "(along)", 'did you mean "Bo"'),
        ({"shot": [{**SIDE_TRACK, "stands": {"Bo": "moon"}}]}, "(along)", "there is launch"),
        ({"shot": [{**SIDE_TRACK, "distance_m": -2.0}]}, "(along): distance_m", "at least 0.1"),
        ({"shot": [{**SIDE_TRACK, "radius_m": 2.0}]}, "(along)", "not a key known"),
        ({"shot": [{**SIDE_TRACK, "from_m": 300.0}]}, "(along)", "the ride is 199.8 m long"),
        ({"shot": [{**SIDE_TRACK, "from_m": 9.1, "to_m": 9.2}]}, "(along)", "nothing to film"),
        ({"shot": [{**SIDE_TRACK, "takes": 0}]}, "(along): takes", "at least 1"),
        ({"shot": SIDE_TRACK}, "site.toml", "[[shot]]"),
        ({"terrain_m": None, "terrain": 40}, "terrain: got 40", "terrain_m = 40"),
        ({"terrain_m": None, "terrain": "40"}, 'terrain: got "40"', "terrain_m = 40"),
        ({"crew": [{"name": "Bo", "role": "both"}]}, "(Bo): role", 'role = ["rider", "pilot"]'),
        ({"crew": [{"name": "Bo", "role": []}]}, "(Bo): role", 'role = ["rider", "pilot"]'),
        (
            {"crew": [{"name": "A", "role": "rider"}, {"name": "A", "role": "pilot"}]},
            "crew",
            'several: role = ["rider", "pilot"]',
        ),
        ({"rules": None}, "site.toml", "rules is missing"),
        ({"disturbance": {"rides": 0}}, "[disturbance]", "at least 1"),
        ({"shot": [{**SIDE_TRACK, "from_m": 9.0, "to_m": 8.0}]}, "(along)", "is not before"),
    ],
)
def test_one_slip_is_one_problem(
    tmp_path: Path, site: dict[str, Any], where: str, said: str
) -> None:
    message = wrong(tmp_path, **site)
    assert where in message
    assert said in message


def test_a_start_without_an_offset_is_refused(tmp_path: Path) -> None:
    text = (write_site(tmp_path) / "site.toml").read_text(encoding="utf-8")
    bare = text.replace("14:00:00+02:00", "14:00:00")
    with pytest.raises(BadInput, match="has no offset"):
        read_outing(write_site(tmp_path, site=bare))
    old = text.replace("2026-06-20T", "1926-06-20T")
    with pytest.raises(BadInput, match="year of start is 1926"):
        read_outing(write_site(tmp_path, site=old))


def test_everything_wrong_comes_in_one_go(tmp_path: Path) -> None:
    with pytest.raises(BadInput) as caught:
        read(
            tmp_path,
            weather={"temperature_c": 281.0},
            ride={"speed_m_s": 90.0},
            rules="moon-open",
            aircraft={"class": "folding-lite"},
            shot=[{**SIDE_TRACK, "side": "toward:lunch"}, {"name": "b", "style": "obrit"}],
            timezone="Nowhere",
        )
    message = str(caught.value)
    for said in ("temperature_c", "90", "moon-open", "folding-lite", "lunch", "obrit", "Nowhere"):
        assert said in message
    assert len(caught.value.problems) == 7


def test_a_key_that_cannot_be_read_hides_no_other_problem(tmp_path: Path) -> None:
    with pytest.raises(BadInput) as caught:
        read(
            tmp_path,
            start="2026-06-20",
            rules="moon-open",
            timezone="Nowhere",
            weather={"gust_m_s": "x", "measured_at": "lunhc"},
            crew=[{"name": "Bo", "role": "both", "stands": "moon"}],
            shot=[{**SIDE_TRACK, "takes": 0, "distance_m": -2.0, "stands": {"Bo": "launch"}}],
        )
    found = [str(problem) for problem in caught.value.problems]
    for said in (
        *("start", "moon-open", "Nowhere", "gust_m_s", "lunhc", "both", '"moon"', "takes", "-2"),
    ):
        assert any(said in problem for problem in found), said
    assert len(found) == 9


@pytest.mark.parametrize("name", ["rider-pilot", "rider and pilot", "rider, pilot"])
def test_two_roles_in_one_text_are_not_taken_for_one(tmp_path: Path, name: str) -> None:
    message = wrong(tmp_path, crew=[{"name": "Bo", "role": name}])
    assert 'role = ["rider", "pilot"]' in message
    assert "did you mean" not in message


def test_shots_without_a_name_are_not_called_twins(tmp_path: Path) -> None:
    nameless = {k: v for k, v in SIDE_TRACK.items() if k != "name"}
    with pytest.raises(BadInput) as caught:
        read(tmp_path, shot=[nameless, nameless])
    assert [p.what for p in caught.value.problems] == ["name is missing; wanted a text"] * 2


@pytest.mark.parametrize(
    ("role", "said"),
    [
        ("cliff", "come from the terrain"),
        ("Rock face", "wanted one of boundary"),
        ("post", 'wanted "pole"'),
        ("power_line", 'wanted "wire"'),
        ("fence", "[[beside]]"),
        ("wall", "as a building"),
        ("Hedge", "as a wood"),
        ("launch", 'wanted "place"'),
        ("polle", 'did you mean "pole"'),
    ],
)
def test_other_words_for_a_role_lead_to_it(tmp_path: Path, role: str, said: str) -> None:
    thing = feature("x", role, point(3.0, 40.0), height_m=2.0)
    with pytest.raises(BadInput) as caught:
        read_outing(write_site(tmp_path, features=[thing]))
    (problem,) = caught.value.problems
    assert said in problem.what


def test_every_word_for_a_role_is_a_word_of_its_own() -> None:
    words = [word for listed, _ in OTHER_WORDS for word in listed.split()]
    assert len(set(words)) == len(words)
    assert not set(words) & set(ROLES)


def test_a_wire_called_a_tree_is_one_problem(tmp_path: Path) -> None:
    wire = feature("x", "tree", line(straight(0.0)), height_m=7.0, sag_m=1.0, kind="local")
    with pytest.raises(BadInput) as caught:
        read_outing(write_site(tmp_path, features=[wire]))
    (problem,) = caught.value.problems
    assert problem.what == (
        'got a LineString; wanted a Point; a LineString with these properties may be "wire"'
    )


def test_a_tree_drawn_as_a_line_says_all_that_is_wrong(tmp_path: Path) -> None:
    tree = feature("x", "tree", line(straight(0.0)), height_m=-7.0, radius_m=2.0)
    with pytest.raises(BadInput) as caught:
        read_outing(write_site(tmp_path, features=[tree]))
    geometry, height = caught.value.problems
    assert geometry.what == "got a LineString; wanted a Point"
    assert "-7" in height.what


def test_an_empty_folder_says_what_is_missing(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"site\.toml"):
        read_outing(tmp_path)


def test_other_units_are_turned(tmp_path: Path) -> None:
    outing = read(
        tmp_path,
        ride={"speed_m_s": None, "speed_km_h": 18.0},
        weather={"wind_m_s": None, "wind_kn": 4.0, "wind_from_deg": None, "wind_from": "wsw"},
        shot=[{**SIDE_TRACK, "from_ft": 100.0}],
    )
    np.testing.assert_allclose(outing.ride.speed_m_s, 5.0)
    # A knot is 1852 m an hour (ISO 80000), a foot 0.3048 m; WSW is 247.5° (the 16-point compass).
    assert outing.day.weather.wind_m_s == pytest.approx(4.0 * 1852 / 3600)
    assert np.degrees(outing.day.weather.wind_from_rad or 0.0) == pytest.approx(247.5)
    assert outing.shots[0].from_m == pytest.approx(30.48)


@pytest.mark.parametrize(
    ("name", "toward"),
    [
        ("N", (0, -1)),
        ("E", (-1, 0)),
        ("S", (0, 1)),
        ("W", (1, 0)),
        ("NE", (-(0.5**0.5), -(0.5**0.5))),
    ],
)
def test_wind_blows_away_from_where_it_comes(
    tmp_path: Path, name: str, toward: tuple[float, float]
) -> None:
    outing = read(tmp_path, weather={"wind_from_deg": None, "wind_from": name})
    moved = outing.day.weather.wind_toward_m_s
    assert moved is not None
    np.testing.assert_allclose(moved, [2.0 * toward[0], 2.0 * toward[1], 0.0], atol=1e-9)


def test_a_reading_on_the_spot_is_one_in_the_hand(tmp_path: Path) -> None:
    assert read(tmp_path / "a").day.weather.measured_height_m == 10.0
    assert (
        read(tmp_path / "b", weather={"measured_at": "launch"}).day.weather.measured_height_m == 2.0
    )


def test_a_shot_that_ends_beyond_the_ride_is_said(tmp_path: Path) -> None:
    outing = read(tmp_path, shot=[{**SIDE_TRACK, "to_m": 500.0}])
    assert outing.shots[0].to_m == pytest.approx(199.8)
    assert outing.repairs == ("along: to_m is 500; the ride ends at 199.8 m",)


def test_shots_and_days_say_what_the_file_says(tmp_path: Path) -> None:
    shot = {**SIDE_TRACK, "takes": 2, "link_lost": "land", "stands": {"Bo": "launch"}}
    outing = read(
        tmp_path,
        shot=[shot, {**SIDE_TRACK, "name": "second"}],
        link_lost="hover",
        crew=[{"name": "Bo", "role": ["rider", "pilot"], "eye_m": 1.7}],
        day={"aircraft_between": "waits", "reset_s": 60},
        disturbance={"rides": 20, "seed": 7},
        timezone="Europe/Ljubljana",
        country="si",
    )
    first, second = outing.shots
    assert (first.takes, first.link_lost, second.link_lost) == (2, "land", "hover")
    assert first.stands.at == {"Bo": "launch"}
    (bo,) = outing.day.crew
    assert bo.roles == {"rider", "pilot"}
    assert (outing.day.aircraft_between, outing.day.reset_s) == ("waits", 60.0)
    assert (outing.disturbance.rides, outing.disturbance.seed) == (20, 7)
    assert str(outing.day.timezone) == "Europe/Ljubljana"
    assert outing.site.country == "SI"


def test_a_missing_ground_file_is_said_and_nothing_is_surveyed(tmp_path: Path) -> None:
    recorded = gpx_text(straight(0.0), np.array([0.0, 9.0]))
    crew = [{"name": "Ada", "role": "rider"}]
    folder = write_site(tmp_path, ride=recorded, site={"crew": crew})
    (folder / "ground.geojson").unlink()
    outing = read_outing(folder)
    assert "there is no ground.geojson" in outing.repairs[0]
    assert outing.site.surveyed == ()


def test_an_unreadable_ground_file_is_one_problem(tmp_path: Path) -> None:
    folder = write_site(tmp_path, ride=gpx_text(straight(0.0), np.array([0.0, 9.0])))
    (folder / "ground.geojson").write_text("{", encoding="utf-8")
    with pytest.raises(BadInput, match="is not JSON") as caught:
        read_outing(folder)
    assert len(caught.value.problems) == 1


def test_the_default_world_is_sound(tmp_path: Path) -> None:
    outing = read(tmp_path)
    assert outing.repairs == ()
    assert outing.site.name == SITE["name"]
    assert set(outing.inputs) == {"site.toml", "ground.geojson"}
    assert all(len(value) == 64 for value in outing.inputs.values())
