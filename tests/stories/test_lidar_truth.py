"""Never more generous than the truth: real laser scans, and what is `go` held against every return.

The site is what the intake makes of the scan (the first test), or the scan in coarser bodies; the
truth is the scan. A place is only `go` if the aircraft (undisturbed) keeps `keep_clear_m` from
every real return that is not ground. The nearest return is found by scipy, in a frame made by
pyproj from the printed definition. The first test's place is walked, too: a scan sees no wires.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from pyproj import Transformer
from scipy.spatial import cKDTree
from shapely.geometry import shape

from shotplan import plan as planning
from shotplan.checks import CHECKS
from shotplan.errors import Problems
from shotplan.flying import stage_scene
from shotplan.intake.found import Found
from shotplan.intake.lidar.read import read_lidar
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing, read
from shotplan.scene.margin import Check
from tests import lidar, scans

pytestmark = pytest.mark.real

RIDES = {
    "across": [(12.0, 16.0), (88.0, 84.0)],
    "along the street": [(46.0, 6.0), (40.0, 50.0), (24.0, 94.0)],
    "round the yard": [(30.0, 60.0), (60.0, 56.0), (72.0, 30.0), (62.0, 22.0)],
    "through the yard": [(50.0, 29.5), (69.0, 29.5)],
}
PLACES = {
    "yard": (49.0, 35.0), "middle": (62.0, 42.0), "corner": (25.0, 72.0), "launch": (49.5, 34.5),
}  # fmt: skip
EXACT: dict[str, Any] = {"error_m": 0.0, "height_error_m": 0.0}  # nothing is grown: geometry alone
AS_TOLD: dict[str, Any] = {"error_m": 0.3}
BY_INTAKE: dict[str, Any] = {}  # grown as the intake says
WORLDS: list[tuple[str, dict[str, Any], float]] = [
    ("across", BY_INTAKE, 2.0),
    ("along the street", EXACT, 1.0),
    ("round the yard", BY_INTAKE, 2.0),
]
CORNER, SIDE_M = lidar.TOWN.corner, lidar.TOWN.side_m


def shots() -> list[dict[str, Any]]:
    """Many ways to fly it; above 20 m it is over everything."""
    beside = [
        {"style": "side-track", "side": side, "distance_m": away, "height_m": up}
        for side, away, up in [
            ("left", 6.0, 4.0), ("left", 10.0, 9.0), ("left", 16.0, 14.0), ("left", 25.0, 19.0),
            ("right", 6.0, 6.0), ("right", 10.0, 12.0), ("right", 16.0, 17.0),
            ("right", 25.0, 22.0),
        ]
    ]  # fmt: skip
    behind = [
        {"style": "follow-behind", "distance_m": away, "height_m": up}
        for away, up in [(5.0, 3.0), (8.0, 6.0), (10.0, 11.0), (12.0, 16.0), (8.0, 21.0)]
    ]
    still = [
        {"style": "hold", "at": at, "height_m": up}
        for at in ("yard", "corner")
        for up in (5.0, 12.0, 20.0)
    ]
    round_it = [
        {"style": "orbit", "around": at, "radius_m": radius, "height_m": up, "speed_m_s": 4.0,
         "direction": way, "start_deg": 90, "aim": "rider"}
        for at, radius, up, way in [
            ("yard", 8.0, 5.0, "clockwise"), ("yard", 15.0, 13.0, "anticlockwise"),
            ("corner", 12.0, 18.0, "clockwise"), ("corner", 25.0, 24.0, "anticlockwise"),
        ]
    ]  # fmt: skip
    every: list[dict[str, Any]] = [*beside, *behind, *still, *round_it]
    return [{"name": f"shot {k}", **one} for k, one in enumerate(every)]


class Tried(NamedTuple):
    """Metres of the ride (a step of it for each sample) and of the flight, and how near it came."""

    ridden_m: float
    go_m: float
    flown_go_m: float
    near_go_m: float  # of those ridden, flown within 10 m of a return
    nearest_m: float


@pytest.fixture(scope="module")
def cloud() -> lidar.Cloud:
    from tests.conftest import real_folder

    return lidar.read_cloud(real_folder() / "lidar")


@pytest.fixture(scope="module")
def returns(cloud: lidar.Cloud) -> cKDTree:
    return cKDTree(lidar.in_frame(cloud.scan, cloud.rest))


def site_of(
    folder: Path, cloud: lidar.Cloud, ride: str, bodies: lidar.Bodies, grown: dict[str, Any],
    keep_m: float, shots_of: list[dict[str, Any]],
) -> Outing:  # fmt: skip
    """A day without much wind; what is coarse goes on beyond the scan."""
    folder.mkdir(parents=True, exist_ok=True)
    lidar.write_surroundings(folder / "around.tif", cloud)
    ride_keys = {"speed_m_s": 4.0, **({"error_m": 0.0} if grown is EXACT else {})}
    site = {
        "keep_clear_m": keep_m, "surroundings": "around.tif", "return_height_m": 26.0,
        "ride": ride_keys, "shot": shots_of,
        "weather": {"wind_m_s": 1.0, "gust_m_s": 2.0},
    }  # fmt: skip
    return read(
        lidar.write_lidar_site(
            folder, cloud, ride=RIDES[ride], bodies=bodies, places=PLACES, site=site, **grown
        )
    )


def metres(go: NDArray[np.bool_], along_m: NDArray[np.float64]) -> float:
    """How much of the ride (or flight) lies between neighbours that are both go."""
    return float(np.diff(along_m)[go[1:] & go[:-1]].sum())


def fly(outing: Outing, asked: tuple[Check, ...], returns: cKDTree, keep_m: float) -> Tried:
    """Every shot of an outing: no sample at which all `asked` are go is too near to a return."""
    told = np.zeros(4)
    nearest = np.inf
    for shot in outing.shots:
        scene = stage_scene(outing, shot, outing.day.start, 1)
        found = planning.findings(scene, asked)
        go = np.all([f.sample_codes == int(Verdict.GO) for f in found], axis=0)
        xyz, along = scene.track.xyz_m[0], scene.track.ride.along_m[0]
        away, _ = returns.query(xyz)
        bad = go & (away < keep_m)
        assert not bad.any(), (
            f"{shot.name} ({shot.style.words()}) is go at {along[bad][:3]} m of the ride, and "
            f"{away[bad].min():.2f} m from a real return"
        )
        flown = np.concatenate([[0.0], np.linalg.norm(np.diff(xyz, axis=0), axis=1).cumsum()])
        told += [
            np.ptp(along), metres(go, along), metres(go, flown), metres(go & (away < 10.0), along)
        ]  # fmt: skip
        nearest = min(nearest, float(away[go].min(initial=np.inf)))
    ridden, safe, flown_m, near = (float(v) for v in told)
    return Tried(ridden, safe, flown_m, near, nearest)


class Town(NamedTuple):
    """What stands there as it was scanned, and what the intake makes of it."""

    scan: scans.Scan
    found: Found

    @property
    def rest(self) -> NDArray[np.float64]:
        """Returns that are neither ground nor water."""
        return self.scan.xyz[~np.isin(self.scan.kind, (scans.GROUND, scans.WATER))]

    def lonlat(self, *xy_m: tuple[float, float]) -> NDArray[np.float64]:
        """Metres from the corner, in degrees."""
        return self.scan.lonlat(np.array(xy_m) + CORNER)


@pytest.fixture(scope="module")
def town() -> Town:
    from tests.conftest import real_folder

    tiles = sorted((real_folder() / "lidar").glob("test_data_77*.laz"))
    scan, problems = scans.read_scan(tiles), Problems()
    found = read_lidar(tiles, scan.diagonal(0.0, 1.0), problems, within_m=80.0)
    assert found is not None
    return Town(scan, found)


def walked(town: Town) -> dict[str, Any]:
    """All of the square, by somebody who looked for everything, where nothing was scanned too."""
    ring = town.lonlat((0.0, 0.0), (SIDE_M, 0.0), (SIDE_M, SIDE_M), (0.0, SIDE_M), (0.0, 0.0))
    return {
        "type": "Feature", "properties": {"id": "walked", "role": "surveyed"},
        "geometry": {"type": "Polygon", "coordinates": [ring.tolist()]},
    }  # fmt: skip


def grown_by(found: Found, says: dict[str, Any]) -> Found:
    """With other errors."""
    features = tuple({**f, "properties": {**f["properties"], **says}} for f in found.features)
    return replace(found, features=features)


def intake_site_of(
    folder: Path, town: Town, ride: str, grown: dict[str, Any], keep_m: float,
    shots_of: list[dict[str, Any]],
) -> Outing:  # fmt: skip
    """A day without much wind, on what the intake makes of the scan."""
    ride_keys = {"speed_m_s": 4.0, **({"error_m": 0.0} if grown is EXACT else {})}
    site = {
        "keep_clear_m": keep_m, "return_height_m": 26.0, "ride": ride_keys, "shot": shots_of,
        "weather": {"wind_m_s": 1.0, "gust_m_s": 2.0},
    }  # fmt: skip
    places = {name: town.lonlat(at)[0] for name, at in PLACES.items()}
    return read(
        scans.write_scan_site(
            folder, grown_by(town.found, grown), town.lonlat(*RIDES[ride]), around_m=40.0,
            places=places, site=site, features=[walked(town)],
        )
    )  # fmt: skip


def returns_in(folder: Path, town: Town) -> cKDTree:
    """The scan's returns in the frame about the centroid of the boundary."""
    drawn = json.loads((folder / "ground.geojson").read_text("utf-8"))["features"]
    area = next(f for f in drawn if f["properties"]["role"] == "boundary")
    middle = shape(area["geometry"]).centroid
    own = f"+proj=aeqd +lat_0={middle.y!r} +lon_0={middle.x!r} +datum=WGS84 +units=m"
    step = Transformer.from_crs(town.scan.crs, own, always_xy=True, allow_ballpark=False)
    rest = town.rest
    return cKDTree(np.column_stack([*step.transform(rest[:, 0], rest[:, 1]), rest[:, 2]]))


def test_nothing_is_go_that_comes_near_a_return(tmp_path: Path, town: Town) -> None:
    asked = tuple(c for c in CHECKS if c.id in ("clearance", "ground"))
    told = []
    for number, (ride, grown, keep_m) in enumerate(WORLDS):
        folder = tmp_path / str(number)
        outing = intake_site_of(folder, town, ride, grown, keep_m, shots())
        told.append(fly(outing, asked, returns_in(folder, town), keep_m))
        print(f"{ride}, kept {keep_m} m: {told[-1]}")
    ridden, go, _, near, _ = np.sum(told, axis=0)
    print(f"tried {ridden:.0f} m of riding; {go:.0f} m go, {near:.0f} m of it within 10 m")
    assert ridden > 5000.0, "too little was tried to say anything"
    assert go > 1000.0, "hardly anything is go: that is no test of it"
    assert near > 300.0, "what is go is far from everything"


def test_no_stretch_of_a_whole_plan_is_go_near_a_return(
    tmp_path: Path, cloud: lidar.Cloud, returns: cKDTree
) -> None:
    """The same with everything asked, by the stretches that a report has: low in the yard, whose
    middle is 7 m from what stands about it."""
    chosen: list[dict[str, Any]] = [
        {"style": "follow-behind", "distance_m": 5.0, "height_m": 5.0},
        {"style": "follow-behind", "distance_m": 4.0, "height_m": 7.0},
        {"style": "side-track", "side": "left", "distance_m": 5.0, "height_m": 5.0},
        {"style": "side-track", "side": "left", "distance_m": 7.0, "height_m": 7.0},
        {"style": "hold", "at": "middle", "height_m": 6.0},
        {"style": "hold", "at": "middle", "height_m": 9.0},
    ]
    named = [{**shot, "name": f"low {k}"} for k, shot in enumerate(chosen)]
    outing = site_of(tmp_path, cloud, "through the yard", "columns", AS_TOLD, 2.0, named)
    go_m = 0.0
    for shot in planning.make(outing):
        away, _ = returns.query(shot.track.xyz_m[0])
        along = shot.track.ride.along_m[0]
        for run in shot.stretches:
            if run.verdict is not Verdict.GO:
                continue
            here = (along >= run.from_m) & (along <= run.to_m)
            go_m += run.to_m - run.from_m
            assert away[here].min() >= 2.0, (shot.name, run)
    print(f"{go_m:.0f} m of stretches are go")
    assert go_m > 20.0, "hardly anything is go: that is no test of it"


def test_every_return_stands_in_some_body(cloud: lidar.Cloud) -> None:
    """The site leaves nothing out: else the first test says nothing about the program."""
    high = cloud.over_m > lidar.LOW_M
    assert high.sum() > 100_000
    for bodies in (lidar.columns(cloud), lidar.areas(cloud)):
        assert len(bodies) > 10
    trees = lidar.columns(cloud)
    places = np.array([t["geometry"]["coordinates"] for t in trees])
    middles = lidar.from_lon_lat(cloud.scan, places)
    says = [t["properties"] for t in trees]
    tops = lidar.reading(cloud.scan, cloud.raster, middles) + [s["height_m"] for s in says]
    away, which = cKDTree(middles).query(cloud.rest[high, :2], k=4)
    inside = (away <= says[0]["radius_m"]) & (cloud.rest[high, 2][:, None] <= tops[which])
    assert inside.any(axis=1).all()


# --- and yet go can be reached ----------------------------------------------------------------

CLEARING, CROWN_M = (236.0, 47.0), 3.0  # lower things are shrubs, and drawn as well


def test_a_hold_in_a_real_clearing_is_go(tmp_path: Path) -> None:
    """A calm day, everything looked for, 12 m from every crown: nothing speaks against it."""
    from tests.conftest import real_folder

    cloud = lidar.read_cloud(real_folder() / "lidar", lidar.FOREST)
    crowns = cloud.rest[cloud.over_m > CROWN_M]
    away, _ = cKDTree(crowns[:, :2]).query(CLEARING)
    assert away > 12.0
    drawn = cKDTree(cloud.rest[cloud.over_m > lidar.LOW_M][:, :2])
    about = np.array(CLEARING) + [(x, y) for x in range(-14, -5) for y in range(-12, 13)]
    launch = about[drawn.query(about)[0].argmax()]
    lidar.write_surroundings(tmp_path / "around.tif", cloud)
    hold = {"name": "hold", "style": "hold", "at": "middle", "height_m": 8.0}
    site = {
        "rules": "ca-basic", "country": "CA", "aircraft": {"class": "folding-all-round"},
        "start": datetime.fromisoformat("2026-06-20T14:00:00-04:00"),
        "surroundings": "around.tif", "ride": {"speed_m_s": 4.0}, "shot": [hold],
        "weather": {"wind_m_s": 1.0, "gust_m_s": 2.5}, "disturbance": {"rides": 300},
    }  # fmt: skip
    folder = lidar.write_lidar_site(
        tmp_path, cloud, ride=[(245.0, 35.0), (245.0, 59.0)], site=site, error_m=0.3,
        places={"launch": (float(launch[0]), float(launch[1])), "middle": CLEARING},
    )  # fmt: skip
    (shot,) = planning.make(read(folder))
    against = {f.check: (f.verdict.word, f.reason) for f in shot.findings if f.verdict.word != "go"}
    assert against == {}
