"""Hvinhylde: a heath that ends in a sheer face over the sea. Invented."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import numpy as np
import shapely
from numpy.typing import NDArray

from tests.drawn import sheet as drawing
from tests.drawn.sheet import SITES, Array, Point, Ridden, Sheet

FOLDER = SITES / "hvinhylde"
SHEET = Sheet(crs="EPSG:32633", origin_m=(483_600.0, 6_122_600.0))
CELL_M = 2.0
COLUMNS, ROWS = 210, 240

EDGE: tuple[Point, ...] = (
    (112, -40), (118, 60), (128, 140), (126, 200), (138, 250), (150, 280), (166, 300),
    (225, 316), (300, 335), (370, 354), (480, 382),
)  # fmt: skip
LAND = shapely.Polygon([*EDGE, (480, -40)])
SEABED_M = -6.0
RIDE_START: Point = (138.0, 62.0)
LEG_1_M, TURN_RADIUS_M, LEG_2_M = 200.0, 26.0, 188.2
COURSE_1_DEG, COURSE_2_DEG = 5.0, 75.0
STOP_AT_M, STOP_S = 150.0, 12.0
SEED, WANDER_M = 2, 0.4


def terrain_m() -> NDArray[np.float32]:
    """`(ROWS, COLUMNS)` elevation of the cell centres, the northern row first."""
    return drawing.cells_m(elevation_m, COLUMNS, ROWS, CELL_M)


def elevation_m(x: Array, y: Array) -> Array:
    """Heath, gully, face and seabed at points of the site."""
    points = shapely.points(x, y)
    inland_m = shapely.distance(points, shapely.LineString(EDGE))
    inland_m = np.where(shapely.contains(LAND, points), inland_m, -inland_m)
    inland_m = inland_m + 0.8 * np.sin(x / 9.0 + 1.0) * np.sin(y / 7.3)
    heath = (
        74.0
        + 1.4 * np.sin(x / 38.0 + 0.4) * np.cos(y / 47.0)
        + 0.4 * np.sin(x / 11.0 + y / 13.0)
        + 4.0 * np.exp(-((x - 340.0) ** 2 + (y - 140.0) ** 2) / (2 * 60.0**2))
    )
    along_gully = (x - 127.0) * math.sin(math.radians(82.0)) + (y - 192.0) * math.cos(
        math.radians(82.0)
    )
    across_gully = (x - 127.0) * math.cos(math.radians(82.0)) - (y - 192.0) * math.sin(
        math.radians(82.0)
    )
    gully = 26.0 * np.clip(1.0 - np.maximum(along_gully, 0.0) / 15.0, 0.0, 1.0)
    heath = heath - gully * np.exp(-((across_gully / 4.5) ** 2))
    fallen = np.clip(-inland_m / 2.0, 0.0, 1.0)  # the face: one to two cells wide
    scree = np.clip((-inland_m - 2.0) / 7.0, 0.0, 1.0)
    foot = 3.0 + (SEABED_M - 3.0) * scree
    return np.asarray(heath + (foot - heath) * fallen)


def ground() -> str:
    """The text of ground.geojson: a feature a line."""
    # The edge from where it enters the raster to where it leaves it, then round the outside.
    sea = [(114.4, 0.0), *EDGE[1:-1], (420.0, 366.7), (420.0, 480.0), (0.0, 480.0), (0.0, 0.0)]
    walkers: list[Point] = [
        (121, 10), (126, 62), (136, 140), (138, 170), (147, 184), (148, 200), (138, 214),
        (146, 250), (158, 277), (170, 292), (226, 308), (301, 327), (371, 346), (410, 357),
    ]  # fmt: skip
    thorns: list[tuple[float, float, float, float]] = [
        (264.5, 294.0, 5.6, 2.2), (279.0, 291.5, 4.8, 1.9), (297.0, 299.5, 5.9, 2.4),
        (311.0, 295.0, 5.1, 2.0), (352.0, 309.0, 4.4, 1.8), (231.0, 203.0, 6.1, 2.8),
    ]  # fmt: skip
    hut: list[Point] = [(296, 247), (304, 249), (302.5, 255), (294.5, 253)]
    wire: list[Point] = [(412, 132), (378, 180), (350, 236), (327, 306)]
    feature = SHEET.feature
    features = [
        feature("boundary", "boundary", [(15, 15), (405, 15), (405, 465), (15, 465)], "Polygon"),
        feature("sea", "water", sea, "Polygon", level_m=0.0),
        *(
            feature(f"thorn-{i:02d}", "tree", [(x, y)], height_m=h, radius_m=r, base_m=1.2,
                    error_m=1.5)
            for i, (x, y, h, r) in enumerate(thorns, start=1)
        ),
        feature("hut", "building", hut, "Polygon", height_m=3.4, name="Netter's hut"),
        feature("telephone", "wire", wire, "LineString", kind="local", height_m=7.0,
                name="Telephone wire"),
        *(
            feature(f"post-{i}", "pole", [p], height_m=7.2)
            for i, p in enumerate(wire[1:], start=1)
        ),
        feature("walkers", "people", walkers, "LineString", state="may-pass",
                name="Walkers' path along the edge"),
        feature("launch", "place", [(196, 250)], name="Flat stone"),
        feature("lookout", "place", [(276, 317)], name="Bank above the path"),
        feature("viewpoint", "place", [(132, 211)], name="Bench by the gully"),
        feature("cairn", "place", [(163, 283)], name="Cairn", height_m=1.5),
    ]  # fmt: skip
    return drawing.collection(features)


def ride_at(along_m: float) -> Point:
    """Where the ride lies after `along_m`: a straight leg, a bend to the right, another leg."""
    first, second = math.radians(COURSE_1_DEG), math.radians(COURSE_2_DEG)
    leg_m = min(along_m, LEG_1_M)
    x = RIDE_START[0] + leg_m * math.sin(first)
    y = RIDE_START[1] + leg_m * math.cos(first)
    bend_m = min(max(along_m - LEG_1_M, 0.0), TURN_RADIUS_M * (second - first))
    turned = first + bend_m / TURN_RADIUS_M
    x += TURN_RADIUS_M * (math.cos(first) - math.cos(turned))
    y += TURN_RADIUS_M * (math.sin(turned) - math.sin(first))
    rest_m = max(along_m - LEG_1_M - TURN_RADIUS_M * (second - first), 0.0)
    x += rest_m * math.sin(second)
    y += rest_m * math.cos(second)
    weave_m = 0.7 * math.sin(along_m / 23.0)
    return x + weave_m * math.cos(turned), y - weave_m * math.sin(turned)


def ride_m() -> float:
    """Its length along the middle of the gravel."""
    return LEG_1_M + TURN_RADIUS_M * math.radians(COURSE_2_DEG - COURSE_1_DEG) + LEG_2_M


def ridden() -> Ridden:
    """Time and distance along the ride, with its stop."""
    slow = ((0.0, 3.0), (STOP_AT_M, 0.3), (215.0, 4.0), (300.0, 6.6), (ride_m(), 4.8))
    return drawing.ridden(ride_m(), slow, 7.0, STOP_AT_M, STOP_S)


def ride() -> str:
    """The text of ride.gpx."""
    return drawing.gpx(
        SHEET,
        ridden(),
        ride_at,
        elevation_m,
        track="gravel along the edge",
        started=datetime(2026, 6, 6, 16, 2, 11, tzinfo=UTC),
        seed=SEED,
        wander_m=WANDER_M,
        stop_at_m=STOP_AT_M,
        every_second_m=((LEG_1_M - 10.0, LEG_1_M + 45.0),),
    )
