"""Whether it leaves animals alone: how far it stays away in season, and from where it comes."""

from __future__ import annotations

import math
from datetime import date
from typing import NamedTuple

import numpy as np

from shotplan.kernels.solids import footprints
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.site import Wildlife
from shotplan.scene import needs
from shotplan.scene.holding import called, in_season, local_date, region
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Remark, Told, Why, Words
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

STEEP_RAD = math.radians(20.0)
COMES_DOWN_M_S = 0.5  # slower it hangs in the air, however steeply it sways: own setting
NEAR_TIMES = 2.0  # within this many stand-offs it must not come down steeply
LAUNCH_M = 100.0
DISTURBS = "from above disturbs most"
SOURCE = (
    "Vas et al. 2015, Biol. Lett. 11:20140754: approaches from above disturbed birds most, launch "
    "more than 100 m away (read); stand-off as drawn, 100 m where not said (own setting after "
    "that and after the closures of seabird colonies)"
)


class Near(NamedTuple):
    """One area against all rides: level distance and whether it comes down on it `(r,n)`."""

    area: Wildlife
    distance_m: Array
    from_above: Bools


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Level distance to the nearest area in season, against its stand-off."""
    shape = scene.track.known.shape
    on = local_date(scene)
    now = [a for a in scene.site.wildlife if in_season(a, on)]
    near = [_near(scene, area) for area in now]
    stand_off = np.array([a.stand_off_m for a in now])[:, None, None]
    distance = np.array([k.distance_m for k in near]).reshape(-1, *shape)
    margin = (distance - stand_off).min(axis=0, initial=np.inf)
    above = np.array([k.from_above for k in near], dtype=bool).reshape(-1, *shape)
    steep = np.where(above, distance - NEAR_TIMES * stand_off, np.inf)
    looked = scene.looked_here(("wildlife",))
    n = shape[1]
    if now:
        rank = np.where(above, np.minimum(distance - stand_off, steep), distance - stand_off)
        which = rank[:, 0].argmin(axis=0)
        value, limit = distance[which, 0, np.arange(n)], stand_off[which, 0, 0]
    else:
        which, value, limit = np.full(n, -1), np.full(n, np.nan), np.full(n, np.nan)
    binding = [near[w] if w >= 0 else None for w in which]
    return (
        Margin(
            margin=np.where((margin >= 0.0) & ~looked, np.nan, margin),
            soft=steep.min(axis=0, initial=np.inf),
            value=value,
            limit=limit,
            thing=np.array([k.area.id if k else "" for k in binding], dtype=object),
            why=_said(scene, binding, looked[0], on),
            remarks=_remarks(scene, on),
            assumptions=(_taken(now),),
            source=SOURCE,
        ),
    )


def _taken(now: list[Wildlife]) -> str:
    errors = [area.error_m for area in now]
    if max(errors, default=0.0) == 0.0:
        return "wildlife areas are taken as drawn; the distance is level"
    return (
        f"wildlife areas are grown by {say.span(errors)} from where they are drawn, "
        f"{say.ONE_ERROR}; the distance is level"
    )


def _near(scene: Scene, area: Wildlife) -> Near:
    track, there, within_m = scene.track, region(area), NEAR_TIMES * area.stand_off_m
    distance = scene.least_here(
        lambda p: footprints.reach(there, p[:, :2]).distance_m - area.error_m,
        within_m + scene.enough_m,
    )
    above = (distance < within_m) & track.ride.filming
    here, moving = track.xyz_m[above], track.velocity_m_s[above]
    found = footprints.reach(there, here[:, :2])
    inside = found.distance_m <= area.error_m
    closing = ((found.at_m - here[:, :2]) * moving[:, :2]).sum(axis=-1) > 0.0
    down = np.arctan2(-moving[:, 2], np.hypot(moving[:, 0], moving[:, 1])) > STEEP_RAD
    down &= -moving[:, 2] >= COMES_DOWN_M_S
    above[above] = down & (closing | inside)
    return Near(area, distance, above)


def _said(scene: Scene, binding: list[Near | None], looked: Bools, on: date) -> Why:
    nothing = "wildlife was looked for, and none is drawn"
    if scene.site.wildlife:
        nothing = f"wildlife was looked for, and nothing drawn is in season on {on:%d %B}"
    sink = f"{math.degrees(STEEP_RAD):.0f}°"

    def reason(i: int, spot: str) -> str:
        it = binding[i]
        if it is None:
            return nothing
        away, off, name = float(it.distance_m[0, i]), it.area.stand_off_m, called(it.area)
        if away >= off and it.from_above[0, i]:
            from_ = f"from {say.metres(away)} away, {spot}"
            return f"it comes down on {name} steeper than {sink}, {from_}"
        where = f"{say.metres(away)} from" if away > 0.0 else "over"
        return f"it flies {where} {name}, measured level, {spot}; {say.metres(off)} is kept"

    def advice(i: int) -> str:
        it = binding[i]
        assert it is not None
        short = it.area.stand_off_m - float(it.distance_m[0, i])
        if short > 0.0:
            return f"fly {say.rounded_up(short):.1f} m farther from {called(it.area)}"
        far = say.metres(NEAR_TIMES * it.area.stand_off_m)
        return f"come down farther than {far} from it, or flatter than {sink}: {DISTURBS}"

    def unknown(i: int, spot: str) -> Words:
        if looked[i]:
            it = binding[i]
            off = it.area.stand_off_m if it else LAUNCH_M
            what = f"the ground is not known at {spot}, so where it flies is not either"
            return no_ground(what, f"it then keeps {off:.0f} m from wildlife")
        off = min((a.stand_off_m for a in scene.site.wildlife), default=LAUNCH_M)
        return Words(
            f"nobody looked for wildlife at {spot}",
            "ask who knows the place, draw colonies and nests with role `wildlife` and add "
            f"wildlife to [survey] looked_for; go if they then are {off:.0f} m away",
        )

    return told(scene, reason, advice, unknown=unknown, nothing=nothing)


def _remarks(scene: Scene, on: date) -> tuple[Remark, ...]:
    found = []
    launch = scene.site.launch
    for area in scene.site.wildlife:
        name = called(area)
        if not in_season(area, on):
            season = f"{area.season_from or '01-01'} to {area.season_to or '12-31'}"
            found.append(Remark(f"{name} is out of season on {on:%m-%d} (its season: {season})"))
            continue
        if launch is None:
            continue
        away = float(footprints.reach(region(area), launch.xyz_m[None, :2]).distance_m[0])
        away -= math.hypot(area.error_m, launch.error_m)
        if away < LAUNCH_M:
            found.append(
                Remark(
                    f"the launch is {say.metres(max(away, 0.0))} from {name}",
                    caution=True,
                    source=SOURCE,
                    advice=f"start {say.rounded_up(LAUNCH_M - away):.1f} m farther from {name}",
                    short=f"the launch is {say.metres(max(away, 0.0))} from {name}, needs "
                    f"{LAUNCH_M:.0f}",
                )
            )
    return tuple(found)


CHECK = Check(
    id="wildlife",
    family="harm",
    group="place",
    question="does it leave animals alone?",
    unit="m",
    shown=AGAINST,
    told=Told("it disturbs animals, {thing}", strays=""),
    nature=Nature(hits="nothing", placed=True, by_style=True, searched="once"),
    margins=margins,
    wind="none",
    on_terrain=False,
    lifts="another season, or a part of the ride farther from them",
    needs=needs.looked_for("wildlife"),
)
