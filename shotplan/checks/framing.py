"""Whether the rider stays in the frame, how large, and what else is in it."""

from __future__ import annotations

import math

import numpy as np

from shotplan.kernels.ground import grid
from shotplan.kernels.light import camera, light
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S
from shotplan.scene.margin import Check, Margin, Nature, Remark, Told, Why
from shotplan.scene.picture import (
    EDGE,
    RIDER_M,
    Picture,
    error_m,
    half_diagonal_rad,
    off_axis_rad,
    on_rider,
    picture_of,
    shown,
    straight_down,
    sun_on_aircraft,
    to_rider_m,
)
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

DOUBT = 0.3  # of the frame's width that an error of place may move the rider
DOUBT_SOURCE = "f_px·error/distance under 30 % of the frame's width (literature, at second hand)"
PAN_SPAN = 5  # samples, half a second
F_NUMBER, ISO = 1.7, 100.0  # of a small camera without iris (typical, from memory)
FLARE_DEG = 15.0  # outside the frame a sun still veils the picture (depends on the hood)
SHARP = 1.0 / (2.0 * math.tan(math.radians(light.SUN_RADIUS_DEG)))  # spans to where shadows end


def margins(scene: Scene) -> tuple[Margin, ...]:
    """How far from the middle he shows, with the error of his place; and that error alone."""
    picture = picture_of(scene)
    off = np.maximum(np.abs(picture.place.right) + picture.doubt, np.abs(picture.place.up))
    n = off.size
    tilted = picture.tilt_rad != scene.track.camera_elevation_rad[0]
    return (
        Margin(
            margin=EDGE - off,
            value=off,
            limit=np.full(n, EDGE),
            thing=np.where(tilted, "tilt limit", "edge of the frame").astype(object),
            why=_said(scene, picture, off, EDGE),
            remarks=_remarks(scene, picture),
            assumptions=(
                f"the rider is {RIDER_M:g} m tall; the camera does not roll",
                f"exposure for f/{F_NUMBER:g} and ISO {ISO:g}, a small camera without iris (from "
                "memory): check against yours",
            ),
            source="pinhole camera that aims where the rider was response_delay_s ago",
        ),
        Margin(
            margin=DOUBT - picture.doubt,
            value=picture.doubt,
            limit=np.full(n, DOUBT),
            thing=np.full(n, "error of place", dtype=object),
            why=_said(scene, picture, picture.doubt, DOUBT),
            source=DOUBT_SOURCE,
        ),
    )


def _said(scene: Scene, picture: Picture, value: Array, limit: float) -> Why:
    who = "the rider" if on_rider(scene) else "what it circles"
    away = np.linalg.norm(picture.target_m, axis=-1)
    wanted = np.degrees(scene.track.camera_elevation_rad[0])
    tilt = np.degrees(picture.tilt_rad)
    error, down = error_m(scene), straight_down(scene)

    def reason(i: int, spot: str) -> str:
        taken = f"{who} may be {error[i]:.1f} m from where it takes him"
        at = f"at {say.metres(float(away[i]))}, {spot}"
        if limit == DOUBT:
            return f"{taken}: {value[i]:.0%} of the frame's width {at}"
        said = f"{who} shows up to {min(value[i], 9.99):.0%} of the frame from its middle {at}"
        if value[i] <= limit:
            return said
        if wanted[i] != tilt[i]:
            tilts = "looks straight down" if down else f"would have to tilt to {wanted[i]:.0f}°"
            return f"{said}; the camera {tilts} and ends at {tilt[i]:.0f}°"
        where = "looks straight down, where he was about" if down else "aims where he was"
        return f"{said}: it {where} {scene.aircraft.response_delay_s:g} s ago, and {taken}"

    def advice(i: int) -> str:
        if limit == DOUBT or wanted[i] == tilt[i]:
            least = say.rounded_up(float(away[i]) * min(float(value[i]), 10.0) / limit)
            return f"keep at least {least:.1f} m away there, or ride slower"
        if down:
            return f"choose another style: this camera does not tilt beyond {tilt[i]:.0f}°"
        way = "lower" if wanted[i] < tilt[i] else "higher"
        return f"fly {way} or farther out, so that {tilt[i]:.0f}° is enough"

    shows = f"{who} then shows within {limit:.0%} of the frame from its middle"
    unknown = no_ground("the ground under the rider is not known, {spot}", shows)
    return told(scene, reason, advice, unknown=unknown)


def _remarks(scene: Scene, picture: Picture) -> tuple[Remark, ...]:
    """What else there is to say about the picture."""
    return (
        *_size(scene, picture),
        _across(scene),
        _horizon(scene, picture),
        *_pan(scene),
        *_sun(scene, picture),
        *_own_shadow(scene, picture),
        _exposure(scene),
    )


def _for(flags: Bools) -> str:
    """How long something holds."""
    return say.seconds(float(np.count_nonzero(flags) * STEP_S))


def _size(scene: Scene, picture: Picture) -> tuple[Remark, ...]:
    """How large the rider is, and how long he is in a picture that is not held on him."""
    cam = scene.aircraft.camera
    to_rider = to_rider_m(scene)
    high = cam.frame_width_px / cam.aspect
    pixels = camera.subject_px(picture.focal_px, RIDER_M, to_rider)
    if straight_down(scene):
        pixels = picture.focal_px * RIDER_M / -to_rider[:, 2]
    share = pixels / high
    ends = np.array([share.min(), share.max()])
    names = dict.fromkeys(camera.SIZES[int(k)] for k in camera.size(ends))
    much = " to ".join(dict.fromkeys(f"{end:.0%}" for end in ends))
    who = f"a rider of {RIDER_M:g} m"
    if straight_down(scene):
        who += ", taken as long as he is tall,"
    size = Remark(f"{who} is {much} of the frame high: {' to '.join(names)} shot")
    if on_rider(scene):
        return (size,)
    inside = shown(scene, picture, to_rider).inside
    return size, Remark(
        f"the rider is in the frame for {_for(inside)} of {_for(np.ones_like(inside))}"
    )


def _across(scene: Scene) -> Remark:
    """Which way the rider goes in the picture."""
    ride = scene.track.ride
    turn = np.degrees(ride.course_rad[0] - scene.track.camera_azimuth_rad[0])
    names = ("away", "left to right", "toward the camera", "right to left")
    if straight_down(scene):
        names = ("up", "left to right", "down", "right to left")
    labels = [
        names[k] if speed > 0.5 else ""
        for k, speed in zip(np.round(turn / 90.0).astype(int) % 4, ride.speed_m_s[0], strict=True)
    ]
    return Remark(f"in the picture the rider goes {say.stretches(ride.along_m[0], labels)}")


def _horizon(scene: Scene, picture: Picture) -> Remark:
    """Whether the level horizon is in the picture."""
    cam = scene.aircraft.camera
    dip = camera.dip_rad(np.nan_to_num(scene.height_m[0]))
    rows = camera.horizon_px(picture.focal_px, picture.tilt_rad, dip)
    inside = np.abs(rows) < 0.5 * cam.frame_width_px / cam.aspect
    labels = ["in the frame" if i else "out of the frame" for i in inside]
    return Remark(f"the horizon is {say.stretches(scene.track.ride.along_m[0], labels)}")


def _pan(scene: Scene) -> tuple[Remark, ...]:
    """The seven-second rule."""
    rate = camera.pan_rad_s(scene.track.camera_azimuth_rad[0], STEP_S, PAN_SPAN)
    most = camera.pan_limit_rad_s(scene.aircraft.camera.horizontal_fov_rad)
    if not (rate > most).any():
        return ()
    return (
        Remark(
            f"it pans faster than {math.degrees(most):.1f}°/s for {_for(rate > most)}, up to "
            f"{math.degrees(float(rate.max())):.0f}°/s: the background may smear",
            source="seven-second rule, common practice",
        ),
    )


def _sun(scene: Scene, picture: Picture) -> tuple[Remark, ...]:
    """The sun in the picture, or near enough to veil it."""
    up = sun_on_aircraft(scene)
    inside = up & shown(scene, picture, scene.toward_sun).inside
    reach = half_diagonal_rad(scene) + math.radians(FLARE_DEG)
    veiled = up & ~inside & (off_axis_rad(scene, picture, scene.toward_sun) < reach)
    said = []
    if inside.any():
        said.append(f"the sun is in the picture for {_for(inside)}")
    if veiled.any():
        said.append(f"just outside it the sun may veil the picture for {_for(veiled)}")
    return (Remark("; ".join(said)),) if said else ()


def _own_shadow(scene: Scene, picture: Picture) -> tuple[Remark, ...]:
    """The aircraft's own shadow in the picture, as far as it still is one: the disc of the sun
    washes it out some hundred spans away."""
    start = np.array(scene.track.xyz_m[0])
    way = -scene.aircraft.span_m * SHARP * scene.toward_sun
    at = grid.first_cut(scene.site.terrain.grid, start, start + way).at
    falls = sun_on_aircraft(scene) & (way[:, 2] < 0.0) & np.isfinite(at)
    spot = np.where(falls, at, 1.0)[:, None] * way
    inside = falls & shown(scene, picture, spot).inside
    if not inside.any():
        return ()
    return (Remark(f"its own shadow lies in the picture for {_for(inside)}"),)


def _exposure(scene: Scene) -> Remark:
    """Shutter and filter for the middle of the shot."""
    shutter = camera.shutter_s(scene.aircraft.camera.fps)
    dim = bool(scene.under_trees[0].mean() > 0.5)
    stops_off = light.UNDER_TREES_STOPS if dim else 0.0
    here = light.darker(np.array(np.median(scene.lux)), stops_off)
    value = float(light.exposure_value(here))
    stops = value - light.camera_exposure_value(F_NUMBER, shutter, ISO)
    factor = camera.filter_for(stops)
    if stops < -0.5:
        cure = f"ISO {ISO * 2.0 ** round(-stops):.0f}, no filter"
    else:
        cure = f"filter ND{factor}" if factor > 1 else "no filter"
    return Remark(
        f"exposure{' under the trees' if dim else ''}: EV {value:.1f}; 1/{1.0 / shutter:.0f} s at "
        f"{scene.aircraft.camera.fps:g} pictures a second, {cure} at f/{F_NUMBER:g}",
        source="180° shutter, ISO 2720; clear sky",
    )


CHECK = Check(
    id="framing",
    family="picture",
    group="aircraft",
    question="is the rider in the frame?",
    unit="of the frame",
    shown="{value}",
    told=Told("the rider leaves the picture", strays=""),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="never"),
    margins=margins,
    wind="none",
    rides="first",
    pointwise=False,
    binds="at-most",
)
