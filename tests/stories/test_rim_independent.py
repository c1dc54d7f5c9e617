"""The rim, flown by the package, against the same numbers computed a second way.

Everything the printed track says is compared to 0.1 m (the printed definitions' own tolerance) at
ten samples per shot and at the tightest ones; the track itself at every sample.
"""

from __future__ import annotations

import math
import shutil
import tomllib
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from shotplan import plan
from shotplan.outing import read
from shotplan.output.take_along import track
from tests.conftest import ROOT, real_folder
from tests.stories import independent as second

Array = NDArray[np.float64]
pytestmark = pytest.mark.real

SHOTS = (
    "rim from the open side",
    "far out over the drop",
    "chase along the rim",
    "round the marker",
)
TOLERANCE_M = 0.1
GRAZES_M = 0.05  # a ray that passes this near to something may be cut or not
EYE_M, RIDE_ERROR_M, MAP_ERROR_M, UP_M, PACED_M = 1.6, 2.5, 1.0, 1.0, 0.5  # printed defaults


class World(NamedTuple):
    """The site read a second time, and the printed rows."""

    site: dict[str, Any]
    ground: second.Ground
    places: dict[str, Array]  # `(3,)` each, on the ground
    times: Array
    rider: second.Motion
    craft: second.Aircraft
    grown: list[second.Column]
    drawn: list[second.Column]
    rows: dict[str, list[dict[str, str]]]
    flights: dict[str, second.Flight]  # filled as they are asked for

    def shot(self, name: str) -> dict[str, Any]:
        """Its table in site.toml."""
        found: dict[str, Any] = next(s for s in self.site["shot"] if s["name"] == name)
        return found

    def flight(self, name: str) -> second.Flight:
        """Its track, a second way."""
        if name not in self.flights:
            self.flights[name] = flown(self, self.shot(name))
        return self.flights[name]

    def eye(self) -> Array:
        """`(3,)` the pilot's, at the launch."""
        return np.asarray(self.places["launch"] + [0.0, 0.0, EYE_M])


def flown_rows(folder: Path) -> dict[str, list[dict[str, str]]]:
    """What the package prints; one ride is enough, the printed track is the undisturbed one."""
    with (folder / "site.toml").open("a", encoding="utf-8") as out:
        out.write("\n[disturbance]\nrides = 1\n")
    printed = folder / "track.csv"
    printed.write_text(track.text(plan.make(read(folder))), encoding="utf-8", newline="")
    return second.read_rows(printed)


def craft_of(name: str) -> second.Aircraft:
    """A bundled class, from its file."""
    path = ROOT / "shotplan" / "aircraft" / "classes" / f"{name}.toml"
    says = tomllib.loads(path.read_text(encoding="utf-8"))
    keys = (
        "response_delay_s", "response_rad_s", "max_speed_m_s", "max_accel_m_s2", "max_climb_m_s",
        "max_sink_m_s", "reaction_s", "brake_m_s2", "senses",
    )  # fmt: skip
    return second.Aircraft(*(says[key] for key in keys))


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    folder = tmp_path_factory.mktemp("rim") / "rim"
    shutil.copytree(real_folder() / "sites" / "rim", folder)
    for path in (folder, *folder.iterdir()):
        path.chmod(0o755)
    site = tomllib.loads((folder / "site.toml").read_text(encoding="utf-8"))
    rows = flown_rows(folder)
    features = second.read_features(folder)
    frame = second.frame_about(features)
    ground = second.read_ground(folder / "terrain.tif", frame)
    fixes_s, lon_lat = second.read_fixes(folder / "ride.gpx")
    times, rider = second.resampled(fixes_s, second.in_frame(frame, lon_lat))
    places = {
        name: on_ground(ground, second.in_frame(frame, f["geometry"]["coordinates"]))
        for name, f in features.items()
        if f["geometry"]["type"] == "Point"
    }
    grown, drawn = [], []
    for name, feature in features.items():
        says = feature["properties"]
        if says["role"] == "tree":
            xy, z = places[name][:2], float(places[name][2])
            e = math.hypot(says.get("error_m", MAP_ERROR_M), RIDE_ERROR_M)
            grown += second.tree_columns(name, says, xy, z, e, UP_M)
            drawn += second.tree_columns(name, says, xy, z, 0.0, 0.0)
    for index, says in enumerate(site["beside"], start=1):
        at = on_ground(ground, abeam(times, rider, says["at_m"], says["right_m"]))
        name, xy, z = f"beside-{index}", at[:2], float(at[2])
        grown += second.tree_columns(name, says, xy, z, PACED_M, UP_M)
        drawn += second.tree_columns(name, says, xy, z, 0.0, 0.0)
    craft = craft_of(site["aircraft"]["class"])
    return World(site, ground, places, times, rider, craft, grown, drawn, rows, {})


def on_ground(ground: second.Ground, xy_m: Array) -> Array:
    """`(3,)` a place on the ground."""
    return np.append(xy_m, second.elevation(ground, xy_m))


def abeam(times: Array, rider: second.Motion, at_m: float, right_m: float) -> Array:
    """`(2,)` a place to the right of the course, so far along the ride."""
    t = np.array([np.interp(at_m, second.along(times, rider), times)])
    east, north = second.course(rider, t)[0]
    return np.asarray(rider(t)[0] + right_m * np.array([north, -east]))


def flown(world: World, shot: dict[str, Any]) -> second.Flight:
    """The shot's track a second way."""
    site, rider = world.site, world.rider
    height_m = float(shot["height_m"])
    if shot["style"] == "orbit":
        radius_m = float(shot["radius_m"])
        rate = shot["speed_m_s"] / radius_m * (1 if shot["direction"] == "clockwise" else -1)
        start = math.radians(shot["start_deg"])
        wish = second.round_place(world.places[shot["around"]], radius_m, height_m, rate, start)
        t = world.times
        return second.Flight(t, wish(t), (wish(t + 0.001) - wish(t - 0.001)) / 0.002)
    away_m = float(shot["distance_m"])
    if shot["style"] == "follow-behind":

        def offset_m(t: Array) -> Array:
            return np.asarray(-away_m * second.course(rider, t))
    else:
        assert shot["side"] == "downhill"
        down = second.downhill(world.ground, rider(world.times))

        def offset_m(t: Array) -> Array:
            return np.broadcast_to(away_m * down, (len(t), 2))

    under = second.over_ground(world.ground, rider, 0.0)
    wish = second.beside_rider(rider, under, offset_m, height_m)
    toward = math.radians(site["weather"]["wind_from_deg"] + 180.0)
    wind = site["weather"]["wind_m_s"] * np.array([math.sin(toward), math.cos(toward)])
    return second.follow(wish, world.times, world.craft, wind)


def places_of(rows: list[dict[str, str]]) -> Array:
    """`(n, 3)` where it flies, as printed."""
    return second.numbers(rows, "east_m", "north_m", "elevation_m")


def looked_at(rows: list[dict[str, str]]) -> list[int]:
    """Ten samples spread over a shot, and the three tightest of each kind."""
    kinds = second.numbers(rows, "clearance_m", "surface_m", "height_m")
    tight = np.argsort(kinds, axis=0)[:3].ravel()
    return sorted({*np.linspace(0, len(rows) - 1, 10).astype(int).tolist(), *tight.tolist()})


@pytest.mark.parametrize("name", SHOTS)
def test_rider_and_track(world: World, name: str) -> None:
    rows = world.rows[name]
    assert len(rows) == len(world.times)
    rider = second.over_ground(world.ground, world.rider, 0.0)(world.times)
    printed = second.numbers(rows, "rider_east_m", "rider_north_m", "rider_elevation_m")
    assert np.abs(rider - printed).max() < 0.01
    along = second.along(world.times, world.rider)
    assert np.abs(along - second.numbers(rows, "ride_m")[:, 0]).max() < 0.01
    away = np.linalg.norm(world.flight(name).xyz_m - places_of(rows), axis=1)
    assert away.max() < TOLERANCE_M


@pytest.mark.parametrize("name", SHOTS)
def test_both_heights(world: World, name: str) -> None:
    rows, xyz = world.rows[name], places_of(world.rows[name])
    straight = xyz[:, 2] - second.elevation(world.ground, xyz[:, :2])
    assert np.abs(straight - second.numbers(rows, "height_m")[:, 0]).max() < TOLERANCE_M
    launch = xyz[:, 2] - world.places["launch"][2]
    assert np.abs(launch - second.numbers(rows, "height_above_launch_m")[:, 0]).max() < 0.01
    for i in looked_at(rows):
        surface = second.nearest_surface(world.ground, xyz[i])
        assert surface == pytest.approx(float(rows[i]["surface_m"]), abs=TOLERANCE_M), i


@pytest.mark.parametrize("name", SHOTS)
def test_blindness_and_clearance(world: World, name: str) -> None:
    rows, xyz = world.rows[name], places_of(world.rows[name])
    velocity = world.flight(name).velocity_m_s
    nose = np.radians(second.numbers(rows, "heading_deg")[:, 0])
    blind = [second.is_blind(world.craft, v, float(h)) for v, h in zip(velocity, nose, strict=True)]
    assert blind == [row["blind"] == "1" for row in rows]
    for i in looked_at(rows):
        way = second.swept(world.craft, xyz[i], velocity[i], blind[i])
        distance, thing = second.nearest_column(world.grown, way)
        assert distance == pytest.approx(float(rows[i]["clearance_m"]), abs=TOLERANCE_M), i
        assert thing == rows[i]["clearance_thing"], i


@pytest.mark.parametrize("name", SHOTS)
def test_sight(world: World, name: str) -> None:
    rows, xyz, eye = world.rows[name], places_of(world.rows[name]), world.eye()
    slant = np.linalg.norm(xyz - eye, axis=1)
    assert np.abs(slant - second.numbers(rows, "sight_m")[:, 0]).max() < TOLERANCE_M
    decided = 0
    for i in {*looked_at(rows), *range(0, len(rows), 10)}:
        room = second.ray_room_m(world.ground, world.drawn, eye, xyz[i])
        if abs(room) > GRAZES_M:
            assert (room < 0.0) == (rows[i]["sight_cut"] == "1"), i
            decided += 1
    assert decided > 40
