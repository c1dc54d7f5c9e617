"""Two real sites, flown by the package, against the same numbers computed a second way.

Everything the printed track says is compared to 0.1 m (the printed definitions' own tolerance) at
ten samples per shot and at the tightest ones; the track itself at every sample. The second site is
built here from a published raster; nothing of either is copied into the project.
"""

from __future__ import annotations

import json
import math
import shutil
import tomllib
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from pyproj import Transformer
from shapely.geometry import Point, Polygon

from shotplan import plan
from shotplan.outing import read
from shotplan.output import report
from shotplan.output.take_along import track
from tests.conftest import real_folder
from tests.stories import independent as second
from tests.worlds import SITE, laid_over, toml_text

Array = NDArray[np.float64]
pytestmark = pytest.mark.real

TOLERANCE_M = 0.1
GRAZES_M = 0.05  # a ray that passes this near to something may be cut or not
EYE_M, RIDE_ERROR_M, DRAWN_M, MAP_ERROR_M = 1.6, 2.5, 0.5, 1.0  # printed defaults
UP_M, PACED_M, KEEP_M, LOW_M = 1.0, 0.5, 2.0, 0.5


class World(NamedTuple):
    """The site read a second time, and what was printed of it."""

    site: dict[str, Any]
    ground: second.Ground
    places: dict[str, Array]  # `(3,)` each, on the ground
    times: Array
    rider: second.Motion
    craft: second.Aircraft
    grown: list[second.Body]
    drawn: list[second.Body]
    rows: dict[str, list[dict[str, str]]]
    found: dict[str, dict[str, dict[str, Any]]]  # shot -> check -> finding
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


def printed(folder: Path) -> tuple[dict[str, list[dict[str, str]]], dict[str, Any]]:
    """The rows and the report; one ride is enough, the printed track is the undisturbed one."""
    made = plan.make(read(folder), rides=1)
    path = folder / "track.csv"
    path.write_text(track.text(made), encoding="utf-8", newline="")
    return second.read_rows(path), json.loads(report.output(made)["report.json"])


def world_of(folder: Path) -> World:
    """A folder all of whose shots film the whole ride."""
    site = tomllib.loads((folder / "site.toml").read_text(encoding="utf-8"))
    rows, told = printed(folder)
    features = second.read_features(folder)
    frame = second.frame_about(features)
    ground = second.read_ground(folder / site["terrain"], frame)
    first = next(iter(rows.values()))
    times = second.numbers(first, "time_s")[:, 0]
    rider = second.moving(times, second.numbers(first, "rider_east_m", "rider_north_m"))
    places = {
        name: on_ground(ground, second.in_frame(frame, f["geometry"]["coordinates"]))
        for name, f in features.items()
        if f["geometry"]["type"] == "Point"
    }
    recorded = site["ride"]["path"].endswith(".gpx")
    ride_m = site["ride"].get("error_m", RIDE_ERROR_M if recorded else DRAWN_M)
    grown, drawn = [], []
    for name, feature in features.items():
        both = bodies_of(name, feature, frame, ground, ride_m, site.get("map_error_m", MAP_ERROR_M))
        grown += both[0]
        drawn += both[1]
    for index, says in enumerate(site.get("beside", ()), start=1):
        xy = abeam(times, rider, says["at_m"], says["right_m"])
        spot, name = Point(xy), f"beside-{index}"
        on = second.feet(ground, spot, PACED_M)
        grown += second.tree_columns(name, says, xy, on, PACED_M, UP_M)
        drawn += second.tree_columns(name, says, xy, second.feet(ground, spot, 0.0), 0.0, 0.0)
    craft = second.craft_of(site["aircraft"]["class"])
    found = {s["name"]: {f["check"]: f for f in s["findings"]} for s in told["shots"]}
    return World(
        site, ground, places, times, rider, craft, grown, drawn, rows, found, {}
    )  # fmt: skip


def bodies_of(
    name: str, feature: dict[str, Any], frame: Any, ground: second.Ground, ride_m: float,
    map_m: float,
) -> tuple[list[second.Body], list[second.Body]]:  # fmt: skip
    """What is drawn, grown and as drawn."""
    says = feature["properties"]
    own = float(says.get("error_m", map_m))
    e, up = math.hypot(own, ride_m), float(says.get("height_error_m", UP_M))
    role = says["role"]
    if role not in ("tree", "pole", "building", "wire"):
        return [], []
    where = feature["geometry"]["coordinates"]
    if role == "wire":
        xy = second.in_frame(frame, where)
        return (
            second.wire_spans(name, says, ground, xy, own, True, e, up),
            second.wire_spans(name, says, ground, xy, own, False, e, up),
        )
    if role == "building":
        outline = Polygon(second.in_frame(frame, where[0]))
        tops = [second.feet(ground, outline, d).high_m + says["height_m"] for d in (own, 0.0)]
        return (
            [second.Prism(name, outline, e, tops[0] + up)],
            [second.Prism(name, outline, 0.0, tops[1])],
        )
    says = {"radius_m": 0.3, **says}
    xy = second.in_frame(frame, where)
    there, exactly = (second.feet(ground, Point(xy), d) for d in (own, 0.0))
    drawn = second.tree_columns(name, says, xy, exactly, 0.0, 0.0)
    return (
        second.tree_columns(name, says, xy, there, e, up),
        drawn if role == "tree" else [],  # a pole hides nothing
    )


def rim(folder: Path) -> Path:
    """The real rim, as it is."""
    shutil.copytree(real_folder() / "sites" / "rim", folder)
    for path in (folder, *folder.iterdir()):
        path.chmod(0o755)
    return folder


@pytest.fixture(scope="module", params=["rim", "ravine"])
def world(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> World:
    folder = tmp_path_factory.mktemp(request.param) / "site"
    return world_of({"rim": rim, "ravine": ravine}[request.param](folder))


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
    elif shot["side"] in ("left", "right"):
        turn = 1.0 if shot["side"] == "right" else -1.0

        def offset_m(t: Array) -> Array:
            ahead = second.course(rider, t)
            return away_m * turn * np.stack([ahead[..., 1], -ahead[..., 0]], axis=-1)
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


def test_the_rider_is_on_the_ground(world: World) -> None:
    for rows in world.rows.values():
        rider = second.over_ground(world.ground, world.rider, 0.0)(world.times)
        told = second.numbers(rows, "rider_east_m", "rider_north_m", "rider_elevation_m")
        assert np.abs(rider - told).max() < 0.01
        along = second.along(world.times, world.rider)
        assert np.abs(along - second.numbers(rows, "ride_m")[:, 0]).max() < TOLERANCE_M


def test_the_track(world: World) -> None:
    for name, rows in world.rows.items():
        away = np.linalg.norm(world.flight(name).xyz_m - places_of(rows), axis=1)
        assert away.max() < TOLERANCE_M, name


def test_both_heights(world: World) -> None:
    for name, rows in world.rows.items():
        xyz = places_of(rows)
        straight = xyz[:, 2] - second.elevation(world.ground, xyz[:, :2])
        told = second.numbers(rows, "height_m")[:, 0]
        assert (np.isnan(straight) == np.isnan(told)).all()
        assert np.nanmax(np.abs(straight - told)) < TOLERANCE_M
        launch = xyz[:, 2] - world.places["launch"][2]
        told = second.numbers(rows, "height_above_launch_m")[:, 0]
        assert np.abs(launch - told).max() < 0.01
        for i in looked_at(rows):
            surface = second.nearest_surface(world.ground, xyz[i])
            assert surface == pytest.approx(float(rows[i]["surface_m"]), abs=TOLERANCE_M), (name, i)


def test_blindness_and_clearance(world: World) -> None:
    for name, rows in world.rows.items():
        xyz, velocity = places_of(rows), world.flight(name).velocity_m_s
        nose = np.radians(second.numbers(rows, "heading_deg")[:, 0])
        blind = [
            second.is_blind(world.craft, v, float(h)) for v, h in zip(velocity, nose, strict=True)
        ]
        assert blind == [row["blind"] == "1" for row in rows]
        for i in looked_at(rows):
            way = second.swept(world.craft, xyz[i], velocity[i])
            near, thing = second.nearest_body(world.grown, way, blind[i])
            told = float(rows[i]["clearance_m"]) if rows[i]["clearance_m"] else math.inf
            if near < 200.0 or math.isfinite(told):
                assert near == pytest.approx(told, abs=TOLERANCE_M), (name, i, thing)
                assert thing == rows[i]["clearance_thing"] or near == 0.0, (name, i)


def test_the_ground_and_its_error(world: World) -> None:
    """Value and limit where it is said to be tightest; nowhere looked at is it tighter."""
    half = 0.5 * world.craft.span_m
    for name, rows in world.rows.items():
        found, xyz = world.found[name]["ground"], places_of(rows)
        velocity = world.flight(name).velocity_m_s

        def asked(i: int, xyz: Array = xyz, velocity: Array = velocity,
                  rows: list[dict[str, str]] = rows) -> tuple[float, float]:  # fmt: skip
            way = second.swept(world.craft, xyz[i], velocity[i])
            way = way if rows[i]["blind"] == "1" else way[:1]
            coarse = [second.nearest_surface(world.ground, p) for p in way[::25]]
            k = 25 * int(np.argmin(coarse))
            fine = way[max(k - 25, 0) : k + 26 : 5]
            near = [second.nearest_surface(world.ground, p) for p in fine]
            at = fine[int(np.argmin(near))]
            error = second.terrain_error_m(world.ground, at, world.site.get("terrain_error_m"))
            return min(near), half + world.site.get("keep_clear_m", KEEP_M) + error + LOW_M

        if found["at"] is None:
            continue
        at = int(np.abs(world.times - found["at"]["time_s"]).argmin())
        value, limit = asked(at)
        assert found["value"] == pytest.approx(value, abs=TOLERANCE_M), name
        assert found["limit"] == pytest.approx(limit, abs=TOLERANCE_M), name
        for i in looked_at(rows)[::3]:
            value, limit = asked(i)
            assert value - limit > found["margin"] - 2 * TOLERANCE_M, (name, i)


def test_sight(world: World) -> None:
    eye = world.eye()
    for name, rows in world.rows.items():
        xyz = places_of(rows)
        slant = np.linalg.norm(xyz - eye, axis=1)
        assert np.abs(slant - second.numbers(rows, "sight_m")[:, 0]).max() < TOLERANCE_M
        decided = 0
        for i in {*looked_at(rows), *range(0, len(rows), 10)}:
            room = second.ray_room_m(world.ground, world.drawn, eye, xyz[i])
            if abs(room) > GRAZES_M:
                assert (room < 0.0) == (rows[i]["sight_cut"] == "1"), (name, i)
                decided += 1
        assert decided > 40


def ravine(folder: Path) -> Path:
    """A second real site: 400 m of Minnesota at 1 m (EPSG:26915), a line drawn over its steepest
    slope, and one invented thing of every kind where the ground falls away."""
    folder.mkdir()
    shutil.copy(real_folder() / "dem" / "minnesota_1m_dem.tif", folder / "terrain.tif")
    west, north = 429252.313370022, 5150885.424942633

    def lon_lat(*places: tuple[float, float]) -> list[list[float]]:
        """Columns and rows of the raster, which are metres east and south of its corner."""
        to = Transformer.from_crs("EPSG:26915", "EPSG:4326", always_xy=True, allow_ballpark=False)
        return [list(to.transform(west + east, north - south)) for east, south in places]

    def thing(name: str, role: str, kind: str, where: Any, **says: Any) -> dict[str, Any]:
        geometry = {"type": kind, "coordinates": where}
        return {"type": "Feature", "id": name, "properties": {"role": role, **says},
                "geometry": geometry}  # fmt: skip

    def ring(west_m: float, north_m: float, east_m: float, south_m: float) -> Any:
        corners = [(west_m, north_m), (east_m, north_m), (east_m, south_m), (west_m, south_m)]
        return [lon_lat(*corners, corners[0])]

    features = [
        thing("area", "boundary", "Polygon", ring(5.0, 5.0, 395.0, 395.0)),
        thing("launch", "place", "Point", lon_lat((150.0, 200.0))[0]),
        thing("marker", "place", "Point", lon_lat((130.0, 270.0))[0]),
        thing("line", "ride", "LineString", lon_lat((60.0, 200.0), (110.0, 245.0), (190.0, 300.0))),
        thing("lip", "tree", "Point", lon_lat((103.0, 250.0))[0], height_m=9.0, radius_m=2.0,
              base_m=3.0, error_m=4.0),
        thing("birch", "tree", "Point", lon_lat((150.0, 262.0))[0], height_m=12.0, radius_m=2.5,
              height_error_m=2.0),
        thing("mast", "pole", "Point", lon_lat((125.0, 262.0))[0], height_m=7.0),
        thing("hut", "building", "Polygon", ring(158.0, 265.0, 166.0, 271.0), height_m=4.0,
              error_m=2.0),
        thing("phone", "wire", "LineString", lon_lat((80.0, 300.0), (165.0, 310.0), (230.0, 250.0)),
              height_m=[7.0, 9.0, 8.0]),
    ]  # fmt: skip
    shots = [
        {"name": "left", "style": "side-track", "side": "left", "distance_m": 12.0,
         "height_m": 7.0},
        {"name": "right", "style": "side-track", "side": "right", "distance_m": 9.0,
         "height_m": 5.0},
        {"name": "behind", "style": "follow-behind", "distance_m": 8.0, "height_m": 5.0},
        {"name": "downhill", "style": "side-track", "side": "downhill", "distance_m": 15.0,
         "height_m": 8.0},
        {"name": "round", "style": "orbit", "around": "marker", "radius_m": 18.0, "height_m": 10.0,
         "speed_m_s": 4.0, "direction": "anticlockwise", "start_deg": 40},
    ]  # fmt: skip
    beside = [{"at_m": 90.0, "right_m": 6.0, "role": "tree", "height_m": 6.0, "radius_m": 1.5}]
    site = {"name": "Ravine", "rules": "us-part107", "country": "US", "terrain": "terrain.tif",
            "ride": {"path": "line", "speed_m_s": 5.0},
            "shot": shots, "beside": beside}  # fmt: skip
    collection = {"type": "FeatureCollection", "features": features}
    (folder / "ground.geojson").write_text(json.dumps(collection), encoding="utf-8")
    text = toml_text(laid_over(SITE, site))
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return folder
