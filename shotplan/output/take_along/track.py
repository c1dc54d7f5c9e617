"""The undisturbed track of every shot as CSV (the format is fixed, see FORMATS)."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator

import numpy as np

from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame
from shotplan.output.words import plain
from shotplan.scene.margin import UNKNOWN_GROUND

HEADER = (
    "shot,time_s,ride_m,lon,lat,elevation_m,height_m,surface_m,height_above_launch_m,east_m,"
    "north_m,speed_m_s,heading_deg,camera_azimuth_deg,camera_elevation_deg,blind,clearance_m,"
    "clearance_thing,sight_m,sight_cut,rider_east_m,rider_north_m,rider_elevation_m"
)


def text(plan: Plan) -> str:
    """All shots one after another, a line per sample, every 0.1 s; unknown is an empty field."""
    out = io.StringIO()
    out.write(HEADER + "\n")
    writer = csv.writer(out, lineterminator="\n")
    for shot in plan.shots:
        writer.writerows(_rows(shot, plan.outing.site.frame))
    return out.getvalue()


def _rows(shot: ShotPlan, frame: Frame) -> Iterator[tuple[str, ...]]:
    scene, track = shot.scene, shot.scene.track
    xyz, rider = track.xyz_m[0], track.ride.xyz_m[0]
    n = len(xyz)
    lonlat = frame.lonlat_deg(xyz[:, :2])
    near, seen = shot.asked("clearance"), shot.asked("sight")
    columns = (
        [plain(scene.shot.name)] * n,
        fixed(track.ride.t_s),
        fixed(track.ride.along_m[0]),
        fixed(lonlat[:, 0], 9),
        fixed(lonlat[:, 1], 9),
        fixed(xyz[:, 2]),
        fixed(scene.height_m[0]),
        fixed(scene.surface_m),
        fixed(scene.height_above_launch_m[0]),
        fixed(xyz[:, 0]),
        fixed(xyz[:, 1]),
        fixed(scene.speed_m_s[0]),
        bearing(track.heading_rad[0]),
        bearing(track.camera_azimuth_rad[0]),
        fixed(np.degrees(track.camera_elevation_rad[0]), 2),
        ["1" if b else "0" for b in scene.blind[0]],
        fixed(near.values) if near else [""] * n,
        [plain(str(t)) for t in near.things] if near else [""] * n,
        fixed(seen.values) if seen else [""] * n,
        _cut(seen) if seen else [""] * n,
        fixed(rider[:, 0]),
        fixed(rider[:, 1]),
        fixed(rider[:, 2]),
    )
    return zip(*columns, strict=True)


def _cut(seen: Finding) -> list[str]:
    """1 where something stands in the line of sight; empty where no eye, or the ground on the
    way, is known."""
    return [
        "" if math.isnan(v) or thing == UNKNOWN_GROUND else ("1" if thing else "0")
        for v, thing in zip(seen.values, seen.things, strict=True)
    ]


def fixed(values: Array, digits: int = 3) -> list[str]:
    """Decimals as printed; what is not a number is empty; never `-0.000`."""
    return [
        f"{round(float(v), digits) + 0.0:.{digits}f}" if math.isfinite(v) else "" for v in values
    ]


def bearing(angle_rad: Array) -> list[str]:
    """Degrees clockwise from north, 0.00 to 359.99."""
    turned = np.mod(np.round(np.degrees(angle_rad), 2), 360.0)
    return fixed(turned, 2)
