"""How much room there is around the flight: up, down, and to the sides of the nose."""

from __future__ import annotations

import numpy as np

from shotplan.kernels.ground import grid
from shotplan.kernels.rides import thinning
from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.model.site import Site
from shotplan.scene.margin import Remark
from shotplan.scene.scene import Scene

DIRECTIONS = ("up", "down", "ahead", "right", "back", "left")
EVERY_S = 1.0
REACH_M = 50.0
NO_WAY_OUT_M = 5.0  # beyond what is kept clear: own choice


def free_m(site: Site, xyz_m: Array, heading_rad: Array, reach_m: float = REACH_M) -> Array:
    """`(n, 6)` free distance in each of `DIRECTIONS` (of the nose) to the first thing or ground,
    `reach_m` where there is none within; NaN over unknown ground."""
    east, north, zero = np.sin(heading_rad), np.cos(heading_rad), np.zeros_like(heading_rad)
    ahead, right = np.stack([east, north, zero], -1), np.stack([north, -east, zero], -1)
    up = np.broadcast_to([0.0, 0.0, 1.0], ahead.shape)
    ways = np.stack([up, -up, ahead, right, -ahead, -right], axis=1)
    start = np.repeat(xyz_m, len(DIRECTIONS), axis=0)
    end = start + reach_m * ways.reshape(-1, 3)
    ground = grid.first_cut(site.terrain.grid, start, end)
    share = np.minimum(ground.at, 1.0)
    for bodies in (site.obstacles.rest_grown, site.obstacles.wires_grown):
        share = np.minimum(share, bodies.first_cut(start, end)[0])
    share = np.where(ground.unknown_at < share, np.nan, share)
    return (reach_m * share).reshape(-1, len(DIRECTIONS))


def free(scene: Scene, limit_m: float) -> tuple[Remark, ...]:
    """The least room each way along row 0, and where there is no way out: everything nearer than
    `limit_m` and `NO_WAY_OUT_M`."""
    at = thinning.every(scene.blind.shape[1], round(EVERY_S / STEP_S))
    track = scene.track
    room_m = free_m(scene.site, np.array(track.xyz_m[0, at]), np.array(track.heading_rad[0, at]))
    along = track.ride.along_m[0, at]
    parts = [
        _least(name, metres, along)
        for name, metres in zip(DIRECTIONS, room_m.T, strict=True)
        if not np.isnan(metres).all()
    ]
    if not parts:
        return ()
    text = "least room along the flight, by the nose: " + ", ".join(parts)
    need = limit_m + NO_WAY_OUT_M
    shut = np.asarray((room_m < need).all(axis=1))
    if not shut.any():
        return (Remark(text),)
    where = ", ".join(f"{along[a]:.0f} to {along[b - 1]:.0f} m" for a, b in stretches(shut))
    return (
        Remark(
            f"no way out at {where}: something is nearer than {need:.1f} m on every side; {text}",
            caution=True,
            advice=f"give it {need:.1f} m free on one side there, upward best",
        ),
    )


def _least(name: str, metres: Array, along_m: Array) -> str:
    """`up 12.0 m (at 118 m)`."""
    k = int(np.nanargmin(metres))
    least = float(metres[k])
    if least >= REACH_M:
        return f"{name} {REACH_M:.0f} m or more"
    return f"{name} {say.metres(least)} (at {along_m[k]:.0f} m)"
