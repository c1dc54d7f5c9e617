"""What was marked on the way becomes things of a new site."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner, Result

from shotplan.cli import app
from shotplan.files.fixes import Waypoint
from shotplan.intake.waypoints import features_of
from shotplan.model.arrays import Array
from shotplan.outing import read
from tests.intake.test_new import RULES, drawn, recording, refused
from tests.worlds import FRAME

RIDE = FRAME.lonlat_deg(np.array([[0.0, 0.0], [0.0, 60.0], [0.0, 60.0], [0.0, 120.0]]))


def marks(*names: str) -> list[Waypoint]:
    """Each 10 m east of the ride, 20 m on."""
    places = FRAME.lonlat_deg(np.array([[10.0, 20.0 * k] for k in range(1, len(names) + 1)]))
    return [Waypoint(n, *map(float, p)) for n, p in zip(names, places, strict=True)]


def metres(feature: dict[str, object]) -> Array:
    geometry = feature["geometry"]
    assert isinstance(geometry, dict)
    return FRAME.xy_m(np.array(geometry["coordinates"], dtype=float).reshape(-1, 2))


def test_names_become_things() -> None:
    names = ("tree 12 r3", "Tree 7.5m R 2,5m", "pole 8", "launch", "look the big rock",
             "look the big rock", "gate at the road", "Hut", "tree 12", "tree 900 r3")  # fmt: skip
    features, said = features_of(marks(*names), RIDE)
    by_id = {f["properties"]["id"]: f["properties"] for f in features}
    assert set(by_id) == {
        "waypoint-tree-1", "waypoint-tree-2", "waypoint-pole-1", "launch", "the-big-rock",
        "the-big-rock-2", "waypoint-gate-1",
    }  # fmt: skip
    assert (by_id["waypoint-tree-1"]["height_m"], by_id["waypoint-tree-1"]["radius_m"]) == (12, 3)
    assert (by_id["waypoint-tree-2"]["height_m"], by_id["waypoint-tree-2"]["radius_m"]) == (
        7.5,
        2.5,
    )
    assert by_id["the-big-rock"] == {
        "id": "the-big-rock", "role": "place", "name": "the big rock", "error_m": 2.5,
    }  # fmt: skip
    assert by_id["waypoint-gate-1"]["role"] == "people"
    assert "state" not in by_id["waypoint-gate-1"]  # may-pass, as FORMATS has it
    assert {p["error_m"] for p in by_id.values()} == {2.5}
    assert '3 waypoints are not taken, for example "Hut"' in said[0]
    assert metres(features[2])[0] == pytest.approx([10.0, 60.0], abs=0.02)


def test_wires_are_joined_by_their_word() -> None:
    features, said = features_of(marks("wire 8", "wire 7", "wire 20 b", "wire 21 B"), RIDE)
    assert [f["properties"]["height_m"] for f in features] == [[8, 7], [20, 21]]
    assert metres(features[0]) == pytest.approx(np.array([[10, 20], [10, 40]]), abs=0.02)
    assert len(said) == 2


def test_one_point_of_a_wire_is_drawn_across_and_says_that_it_is_a_guess() -> None:
    (wire,), said = features_of(marks("wire 8"), RIDE)
    assert wire["properties"]["name"].startswith("guess")
    ends = metres(wire)
    assert sorted(ends[:, 0]) == pytest.approx([-40.0, 60.0], abs=0.1)
    assert ends[:, 1] == pytest.approx([20.0, 20.0], abs=0.1)
    assert "mark two points" in said[0]


def marked(path: Path, *names: str) -> Path:
    """A recording with waypoints."""
    recording(path)
    tags = "".join(f'<wpt lat="{m.lat_deg:.7f}" lon="{m.lon_deg:.7f}"><name>{m.name}</name></wpt>'
                   for m in marks(*names))  # fmt: skip
    text = path.read_text("utf-8").replace("<trk>", f"{tags}<trk>", 1)
    path.write_text(text, "utf-8")
    return path


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(w) for w in words])


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    """A site of two recordings, one with marks, and a forecast."""
    base = tmp_path_factory.mktemp("marked")
    one = marked(base / "a.gpx", "tree 12 r3", "wire 8", "launch", "look &lt;b&gt;", "gate")
    (base / "hours.csv").write_text(
        "time_utc,wind (km/h),gust (km/h),dir\n2026-06-20T19:00,18,,SW\n2026-06-20T23:00,40,60,W\n"
    )
    two = recording(base / "b.gpx")
    hours, start = base / "hours.csv", "2026-06-20T20:10:00+01:00"
    ended = run("new", base / "s", "--ride", one, "--ride", two, "--rules", RULES,
                "--forecast", hours, "--start", start)  # fmt: skip
    return base / "s", ended


def test_a_new_site_has_them(made: tuple[Path, Result]) -> None:
    folder, ended = made
    assert ended.exit_code == 0, ended.output
    things = drawn(folder)
    assert {"waypoint-tree-1", "waypoint-wire-1", "launch", "b", "waypoint-gate-1"} <= set(things)
    assert "name" not in things["launch"]["properties"]  # marked: no guess
    assert "launch is drawn" not in ended.stdout
    outing = read(folder)
    assert set(outing.site.places) >= {"launch", "b"}
    assert outing.ride_source == "ride.gpx and 1 more"
    assert {"ride.gpx", "ride-2.gpx"} <= set(outing.inputs)


def test_its_weather_is_the_forecasts_hour(made: tuple[Path, Result]) -> None:
    folder, ended = made
    weather = tomllib.loads((folder / "site.toml").read_text("utf-8"))["weather"]
    assert weather == {"wind_m_s": 5.0, "wind_from_deg": 225}
    assert read(folder).day.weather.gust_m_s is None  # missing stays unknown
    flat = " ".join(ended.stdout.split())
    assert "the forecast's for 20:00 on 2026-06-20; it says no gust, which stays unknown" in flat
    assert (folder / "forecast.csv").is_file()


def test_a_forecast_of_another_day_says_nothing(tmp_path: Path) -> None:
    (tmp_path / "h.csv").write_text("time_utc,wind_kn\n2026-07-20T19:00,18\n")
    ride = recording(tmp_path / "r.gpx")
    ended = run("new", tmp_path / "s", "--ride", ride, "--rules", RULES, "--forecast",
                tmp_path / "h.csv", "--start", "2026-06-20T20:10:00+01:00")  # fmt: skip
    assert ended.exit_code == 0, ended.output
    assert "the weather stays unknown" in " ".join(ended.stdout.split())
    assert tomllib.loads((tmp_path / "s" / "site.toml").read_text("utf-8"))["weather"] == {}


def test_bad_recordings_and_forecasts_are_said_together(tmp_path: Path) -> None:
    (tmp_path / "h.csv").write_text("time_utc,wind\n2026-07-20T19:00,18\n")
    (tmp_path / "b.kml").write_text("<!DOCTYPE html><html></html>")
    said = refused(tmp_path / "s", ride=recording(tmp_path / "r.gpx"), more_rides=(
        tmp_path / "b.kml",), forecast=tmp_path / "h.csv")  # fmt: skip
    assert "web page" in said["--ride"]
    assert any("does not say its unit" in what for what in said.values())
    assert not (tmp_path / "s").exists()
