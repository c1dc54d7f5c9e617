"""Larrigan Cut: a forest track through a tree tunnel, with a wire and a cabin. Invented."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from tests.drawn import sheet as drawing
from tests.drawn.sheet import SITES, Array, Point, Ridden, Sheet

FOLDER = SITES / "larrigan"
SHEET = Sheet(crs="EPSG:32616", origin_m=(561_300.0, 5_498_200.0))
CELL_M = 4.0
COLUMNS, ROWS = 180, 165

START: Point = (70.0, 70.0)
START_DEG = 15.0
# The track: straight pieces and bends to the right, as (metres, degrees turned over them).
PIECES = ((250.0, 0.0), (31.4, 45.0), (200.0, 0.0), (18.3, 35.0), (260.0, 0.0))
TUNNEL_M = (305.0, 425.0)  # of the ride
WOOD_WIDE_M = 46.0  # to each side of the track
BEHIND_M = 8.0  # the wood begins this far behind the first crowns of the tunnel
SEED, WANDER_M = 5, 0.25


def terrain_m() -> NDArray[np.float32]:
    """Elevation of the cell centres."""
    return drawing.cells_m(elevation_m, COLUMNS, ROWS, CELL_M)


def elevation_m(x: Array, y: Array) -> Array:
    """Gently rolling ground that rises to the north."""
    return np.asarray(
        318.0
        + 0.012 * y
        + 1.5 * np.sin(x / 71.0 + 0.6) * np.cos(y / 83.0)
        + 0.5 * np.sin(x / 31.0 - y / 37.0)
    )


def ride_m() -> float:
    """The length of the track."""
    return sum(length for length, _ in PIECES)


def track_at(along_m: float, right_m: float = 0.0) -> Point:
    """Where a point lies so far along the track and to the right of it; past its ends straight
    on."""
    (x, y), course, left_m = START, math.radians(START_DEG), along_m
    for index, (length, turn_deg) in enumerate(PIECES):
        piece = left_m if index == len(PIECES) - 1 else min(left_m, length)
        bend = math.radians(turn_deg) / length
        ends = course + bend * piece
        if turn_deg:
            x += (math.cos(course) - math.cos(ends)) / bend
            y += (math.sin(ends) - math.sin(course)) / bend
        else:
            x, y = x + piece * math.sin(course), y + piece * math.cos(course)
        course, left_m = ends, left_m - piece
        if left_m <= 0.0:
            break
    return x + right_m * math.cos(course), y - right_m * math.sin(course)


def axis_at(forward_m: float, right_m: float = 0.0) -> Point:
    """A point on the line through the tunnel, `forward_m` from its near mouth."""
    (x0, y0), (x1, y1) = track_at(TUNNEL_M[0]), track_at(TUNNEL_M[1])
    length = math.hypot(x1 - x0, y1 - y0)
    east, north = (x1 - x0) / length, (y1 - y0) / length
    return x0 + forward_m * east + right_m * north, y0 + forward_m * north - right_m * east


def ridden() -> Ridden:
    """Time and distance along the ride: brisk over the meadow, slower in the bends."""
    speeds = ((0.0, 3.0), (262.0, 5.0), (365.0, 6.4), (490.0, 5.0), (600.0, 7.0), (ride_m(), 4.0))
    return drawing.ridden(ride_m(), speeds, 7.2)


def ride() -> str:
    """The text of ride.gpx."""
    return drawing.gpx(
        SHEET,
        ridden(),
        track_at,
        elevation_m,
        track="the cut, eastbound",
        started=datetime(2026, 7, 4, 20, 41, 7, tzinfo=UTC),
        seed=SEED,
        wander_m=WANDER_M,
        every_second_m=((240.0, 510.0),),
    )


def ground() -> str:
    """The text of ground.geojson."""
    near_m, far_m = BEHIND_M, TUNNEL_M[1] - TUNNEL_M[0] - BEHIND_M
    corners = ((near_m, -1), (near_m, 1), (far_m, 1), (far_m, -1))
    wood = [axis_at(forward, side * WOOD_WIDE_M) for forward, side in corners]
    cabin = [
        track_at(a, r) for a, r in ((535.0, -14.0), (542.0, -14.0), (542.0, -20.0), (535.0, -20.0))
    ]
    wire = [track_at(648.0, r) for r in (-150.0, -90.0, -30.0, 30.0, 90.0, 150.0)]
    walkers = [
        track_at(520.0, 150.0), track_at(519.0, 90.0), track_at(521.0, 40.0),
        track_at(520.0, 0.0), track_at(519.0, -40.0), track_at(521.0, -90.0),
        track_at(520.0, -150.0),
    ]  # fmt: skip
    spruces = ((120.0, -34.0, 11.0), (171.0, -29.0, 9.5), (212.0, 41.0, 12.5), (585.0, -26.0, 10.0))
    around: list[Point] = [(12, 12), (700, 12), (700, 648), (12, 648)]
    feature = SHEET.feature
    return drawing.collection(
        [
            feature("boundary", "boundary", around, "Polygon"),
            feature("wood", "wood", wood, "Polygon", height_m=13.0, name="Spruce wood"),
            *(
                feature(f"spruce-{i}", "tree", [track_at(a, r)], height_m=h, radius_m=2.5,
                        base_m=1.5, error_m=1.5)
                for i, (a, r, h) in enumerate(spruces, start=1)
            ),
            feature("cabin", "building", cabin, "Polygon", height_m=4.2, name="Trapper's cabin"),
            feature("wire", "wire", wire, "LineString", kind="local", height_m=9.0,
                    name="Wire to the cabin"),
            *(
                feature(f"pole-{i}", "pole", [p], height_m=9.3)
                for i, p in enumerate(wire, start=1)
            ),
            feature("footpath", "people", walkers, "LineString", state="held", held_by="Maude",
                    name="Footpath to the lake"),
            feature("launch", "place", [axis_at(-64.0, -0.5)], name="Tree stump"),
            feature("crossing", "place", [axis_at(216.0, -0.5)], name="Footpath crossing"),
            feature("bank", "place", [track_at(600.0, -45.0)], name="Bank over the wire"),
        ]
    )  # fmt: skip
