"""Whether it can keep up: what the shot needs of it against what it has."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.scene.margin import Check, GoIf, Margin, Nature, Told, Why, Words, even
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

SOURCE = "the aircraft's own limits as given"
CALM = "give [weather]; go if the mean wind where it flies"
NEEDS = ("airspeed", "acceleration", "climb", "sink", "yaw rate")


def margins(scene: Scene) -> tuple[Margin, ...]:
    """The largest of needed over available; and whether the wind alone carries it away."""
    picture = _picture(scene)
    return picture, _blown_away(scene)


def needed(scene: Scene, wind_m_s: Array) -> Array:
    """`(5, r, n)` needed over available, in the order of `NEEDS`.

    Airspeed, climb and sink are the set point's own; acceleration is what the following asks for
    before it is cut (not counted where the airspeed is short already: then it asks for ever more
    in vain); yaw rate is the nose's over half a second.
    """
    track, craft = scene.track, scene.aircraft
    wanted = track.setpoint_velocity_m_s
    air = wanted - wind_m_s
    span = 5
    turn = np.unwrap(track.heading_rad, axis=1)
    rate = np.zeros_like(turn)
    if turn.shape[1] > span:
        rate[:, span:] = np.abs(turn[:, span:] - turn[:, :-span]) / (span * STEP_S)
    airspeed = np.hypot(air[..., 0], air[..., 1]) / craft.max_speed_m_s
    return np.stack(
        [
            airspeed,
            np.where(airspeed > 1.0, 0.0, track.asked_m_s2 / craft.max_accel_m_s2),
            np.maximum(wanted[..., 2], 0.0) / craft.max_climb_m_s,
            np.maximum(-wanted[..., 2], 0.0) / craft.max_sink_m_s,
            rate / craft.max_yaw_rad_s,
        ]
    )


def _picture(scene: Scene) -> Margin:
    wind = scene.wind_m_s
    shares = needed(scene, np.zeros(3) if wind is None else wind)
    value = shares.max(axis=0)
    which = shares[:, 0].argmax(axis=0)
    # With the wind not known, only what breaks without any wind is known to break.
    margin = 1.0 - value if wind is not None else np.where(value > 1.0, 1.0 - value, np.nan)
    return Margin(
        margin=margin,
        value=value[0],
        limit=np.ones(len(which)),
        thing=np.array([NEEDS[w] for w in which], dtype=object),
        why=_said(scene, shares[:, 0]),
        source=SOURCE,
        assumptions=("one even wind, the mean as given; gusts and the edge come separately",),
    )


def _said(scene: Scene, shares: Array) -> Why:
    craft, most, which = scene.aircraft, shares.max(axis=0), shares.argmax(axis=0)
    have = (
        say.speed(craft.max_speed_m_s),
        f"{craft.max_accel_m_s2:.1f} m/s²",
        say.speed(craft.max_climb_m_s),
        say.speed(craft.max_sink_m_s),
        f"{np.degrees(craft.max_yaw_rad_s):.0f}°/s",
    )

    def part(i: int) -> tuple[slice, str]:
        """The stretch around sample i on which it falls behind."""
        low, high = next(r for r in stretches(most > 1.0) if r[0] <= i < r[1])
        along = scene.track.ride.along_m[0]
        return slice(low, high), f"{math.floor(along[low])} to {math.ceil(along[high - 1])} m"

    def reason(i: int, spot: str) -> str:
        share = f"{most[i]:.0%} of" if most[i] < 5.0 else "more than five times"
        said = f"it needs {share} the {NEEDS[which[i]]} it has ({have[which[i]]}), {spot}"
        if most[i] <= 1.0:
            return said
        there, metres = part(i)
        gap = float(np.linalg.norm(_behind(scene), axis=1)[there].max())
        return (
            f"{said}: from {metres} of the ride it is up to {say.metres(gap)} off its place and "
            "the rider may leave the picture"
        )

    def unknown(_i: int, spot: str) -> Words:
        if scene.wind_m_s is not None:
            return no_ground(f"the ground is not known at {spot}", "it then keeps up")
        spare = float((1.0 - shares[0].max()) * craft.max_speed_m_s)
        return Words(
            "the wind is not known, so neither is the airspeed it needs",
            f"{CALM} stays under {say.speed(max(spare, 0.0))}",
            _go_if(scene, spare) if (most <= 1.0).all() else (),
        )

    def advice(i: int) -> str:
        return _cure(scene, i, NEEDS[which[i]], float(most[i]), part(i)[1])

    return told(scene, reason, advice, unknown=unknown)


def _go_if(scene: Scene, spare_m_s: float) -> tuple[GoIf, ...]:
    """The mean wind it has speed left for, should it blow against its fastest moment."""
    moving = scene.track.setpoint_velocity_m_s[0]
    east, north, _ = moving[int(np.argmax(np.hypot(moving[:, 0], moving[:, 1])))]
    against = float(np.degrees(np.arctan2(east, north)) % 360.0)
    value = math.floor(spare_m_s * 100.0) / 100.0
    given = (("weather.wind_from_deg", round(against, 2)),)
    return (GoIf("weather.wind_m_s", "at-most", value, "m/s", given),)


def _cure(scene: Scene, i: int, what: str, used: float, part: str) -> str:
    """A slower ride or another side, with numbers; a slower flight where it is flown on its own."""
    if scene.wish is not None and not scene.wish.follows_rider:
        return _own_cure(scene, what, used, part)
    ridden = float(scene.track.ride.speed_m_s[0, i])
    # In a bend the acceleration goes with the square of the speed; all else about evenly.
    slower = ridden * (used**-0.5 if what == "acceleration" else 1.0 / used)
    cures = [f"ride at most about {math.floor(slower * 3.6)} km/h from {part}"]
    away = scene.track.xyz_m[0, i] - scene.track.ride.xyz_m[0, i]
    held = scene.shot.style.held_side(math.atan2(away[0], away[1]))
    if held:
        cures.append(f"set `{held}`: then it does not swing round in the bend")
    cures.append(f"leave out {part} (`from_m`, `to_m`)")
    return ", or ".join(cures)


def _own_cure(scene: Scene, what: str, used: float, part: str) -> str:
    """For a flight that does not follow the rider: its own speed, or more room to turn."""
    if what == "yaw rate":
        return (
            f"fly it {say.rounded_up(used):.1f} times as far from the rider there, ride slower, or "
            f"leave out {part} (`from_m`, `to_m`)"
        )
    fast = scene.shot.style.moves("fast")
    speed = fast[0].number if fast else 0.0
    if what == "airspeed":
        slower = speed - (used - 1.0) * scene.aircraft.max_speed_m_s
    else:
        slower = speed * (used**-0.5 if what == "acceleration" else 1.0 / used)
    slower = math.floor(slower * 10.0) / 10.0
    if fast and slower > 0.0:
        return f"fly it slower: `{fast[0].key} = {slower:g}`"
    if what == "airspeed":
        most = say.speed(scene.aircraft.max_speed_m_s)
        return f"wait for less wind: with {most} it is too slow however slowly this is flown"
    return f"leave out {part} (`from_m`, `to_m`), or wait for calmer air"


def _behind(scene: Scene) -> Array:
    """`(n, 3)` where it is, less where the style wants it (row 0)."""
    if scene.wish is None:
        return np.zeros_like(scene.track.xyz_m[0])
    return np.asarray(scene.track.xyz_m[0] - scene.wish.camera_xyz_m[0])


def _blown_away(scene: Scene) -> Margin:
    wind, most = scene.wind_m_s, scene.aircraft.max_speed_m_s
    blow = np.nan if wind is None else float(np.hypot(wind[0], wind[1]))
    away = ": it is blown away" if blow > most else ""
    why = told(
        scene,
        lambda _i, _spot: (
            f"the wind blows at {say.speed(blow)}, it flies {say.speed(most)} at most{away}"
        ),
        lambda _i: f"wait for less than {say.speed(most)}",
        unknown=Words(
            "the wind is not known, so neither whether it is blown away",
            f"{CALM} stays under {say.speed(most)}",
        ),
    )
    share = blow / most
    blown = even(scene, 1.0 - share, why, value=share, limit=1.0, thing="wind", source=SOURCE)
    return replace(blown, family="harm")


CHECK = Check(
    id="pace",
    family="picture",
    group="place",
    question="does it keep up?",
    unit="of what it has",
    shown="needs {value}",
    told=Told("it does not keep up, {thing}", strays=""),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="once"),
    margins=margins,
    wind="mean",
    rides="first",
    pointwise=False,
    binds="at-most",
)
