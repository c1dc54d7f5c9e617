"""What the camera shows: row 0's picture, and where things show in it."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from shotplan.kernels.light import camera, light
from shotplan.model.arrays import Array, Bools
from shotplan.model.disturbance import RECEIVER_LEAVES_M, RECEIVER_M
from shotplan.scene import sunlight
from shotplan.scene.scene import Scene

RIDER_M = 1.8  # tall, as filmed
AIM_M = 1.0  # the camera aims so high over the ground under the rider (DEFINITIONS "Ride")
EDGE = 0.5  # of the frame, from its middle


class Shown(NamedTuple):
    """Where something shows `right`, `up (n,)`, in shares of the frame's width and height from
    its middle; both +inf behind the camera."""

    right: Array
    up: Array

    @property
    def inside(self) -> Bools:
        """Whether it is in the picture."""
        return np.asarray((np.abs(self.right) < EDGE) & (np.abs(self.up) < EDGE))


class Picture(NamedTuple):
    """The camera follows `target_m (n, 3)` (seen from it), which shows at `place`; an error of its
    place moves that by `doubt (n,)` of the frame's width. `tilt_rad (n,)` is the elevation it
    points at, as far as it tilts; `focal_px`."""

    target_m: Array
    place: Shown
    doubt: Array
    tilt_rad: Array
    focal_px: float


def picture_of(scene: Scene) -> Picture:
    """The picture of row 0."""
    cam, track = scene.aircraft.camera, scene.track
    focal = camera.focal_px(cam.frame_width_px, cam.horizontal_fov_rad)
    tilt = np.clip(track.camera_elevation_rad[0], cam.tilt_min_rad, cam.tilt_max_rad)
    target = to_rider_m(scene)
    if scene.wish is not None and not on_rider(scene):
        target = scene.wish.aim_xyz_m[0] - track.xyz_m[0]
    away = np.linalg.norm(target, axis=-1)
    doubt = camera.shift(focal, error_m(scene), away, cam.frame_width_px)
    return Picture(target, _shown(scene, tilt, target), doubt, tilt, focal)


def shown(scene: Scene, picture: Picture, camera_to_m: Array) -> Shown:
    """Where something at `camera_to_m (n, 3)` shows."""
    return _shown(scene, picture.tilt_rad, camera_to_m)


def _shown(scene: Scene, tilt_rad: Array, camera_to_m: Array) -> Shown:
    cam = scene.aircraft.camera
    at = camera.place(scene.track.camera_azimuth_rad[0], tilt_rad, camera_to_m)
    focal = camera.focal_px(1.0, cam.horizontal_fov_rad)
    return Shown(focal * at.right, focal * cam.aspect * at.up)


def on_rider(scene: Scene) -> bool:
    """Whether the camera is held on the rider, not on a place."""
    return scene.wish is None or scene.wish.aim_follows_rider


def straight_down(scene: Scene) -> bool:
    """Whether the camera is held straight down, not on anything."""
    down = None if scene.wish is None else scene.wish.down_toward_rad
    return down is not None and not bool(np.isnan(down[0]).any())


def to_rider_m(scene: Scene) -> Array:
    """`(n, 3)` from the camera to where it would aim at the rider now."""
    aim = scene.track.ride.xyz_m[0] + np.array([0.0, 0.0, AIM_M])
    return np.asarray(aim - scene.track.xyz_m[0])


def error_m(scene: Scene) -> Array:
    """`(n,)` standard error of the target's place relative to the aircraft."""
    craft, n = scene.aircraft, scene.track.ride.t_s.size
    if not on_rider(scene):
        return np.full(n, craft.position_sigma_m)
    if craft.follows_by == "sight":
        return np.full(n, craft.sight_sigma_m)
    under = scene.site.obstacles.under_trees(scene.track.ride.xyz_m[0])
    return np.hypot(craft.position_sigma_m, np.where(under, RECEIVER_LEAVES_M, RECEIVER_M))


def sun_on_aircraft(scene: Scene) -> Bools:
    """`(n,)` where the sun shines on the aircraft (or it is not known that it does not)."""
    found = sunlight.direct(scene.site, np.array(scene.track.xyz_m[0]), scene.toward_sun)
    return np.asarray(found.lit != 0.0)


def half_diagonal_rad(scene: Scene) -> float:
    """Half the field of view from corner to corner."""
    cam = scene.aircraft.camera
    return math.atan(math.hypot(1.0, 1.0 / cam.aspect) * math.tan(cam.horizontal_fov_rad / 2.0))


def off_axis_rad(scene: Scene, picture: Picture, toward: Array) -> Array:
    """Angle `(n,)` between the camera's axis and a direction `(n, 3)`."""
    axis = light.toward(scene.track.camera_azimuth_rad[0], picture.tilt_rad)
    return light.angle_rad(axis, toward)
