"""What it does when it is left alone: flies home, hovers, or lands where it is."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.checks.return_ import home, room
from shotplan.kernels.rides import thinning
from shotplan.kernels.solids.footprints import distance_to_path_m, inside_m
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.model.site import PeopleArea
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Check, Drawing, GoIf, Margin, Remark, Words
from shotplan.scene.scene import Scene

EVERY_S = 0.5  # how often along the flight the way home is flown
CLEAR_CIRCLE_M = 2.0  # beside the half span, where it comes down at the launch: own choice
SOURCE = "distance to the grown obstacle and to the ground along the way home, common practice"
Why = Callable[[int, Verdict], Words]


def margins(scene: Scene) -> tuple[Margin, ...]:
    """By the shot's `link_lost`, from every half second of row 0."""
    ways = {"home": _home, "hover": _hover, "land": _land}
    return (ways[scene.shot.link_lost](scene),)


class _Asked(NamedTuple):
    """Row 0 every so often: `at (m,)` of its samples, `xyz_m (m, 3)`."""

    at: NDArray[np.intp]
    xyz_m: Array


def _asked(scene: Scene, every_s: float) -> _Asked:
    index = thinning.every(scene.blind.shape[1], round(every_s / STEP_S))
    return _Asked(index, np.array(scene.track.xyz_m[0, index]))


def _limits(scene: Scene) -> tuple[float, float]:
    """Kept from things, and from the ground (without the low things nobody drew)."""
    limit = scene.aircraft.half_span_m + scene.site.keep_clear_m
    return limit, limit + scene.site.terrain.error_m


def _named(scene: Scene, thing: int) -> str:
    things = scene.site.obstacles.things
    if thing >= 0:
        return things[thing].label
    return "the ground" if thing == home.GROUND else "nothing"


def _thing_id(scene: Scene, thing: int) -> str:
    things = scene.site.obstacles.things
    return things[thing].id if thing >= 0 else "ground" if thing == home.GROUND else ""


def _margin(
    scene: Scene, asked: _Asked, found: home.Legs, margin: Array, why: Why, *,
    things: list[str], remarks: tuple[Remark, ...] = (), drawings: tuple[Drawing, ...] = (),
) -> Margin:  # fmt: skip
    """From the samples asked to all of them. `why` is told the place in `asked`."""
    pick = thinning.worse_beside(asked.at, margin, scene.blind.shape[1])
    distance = np.where(np.isinf(found.distance_m), np.nan, found.distance_m)
    return Margin(
        margin=thinning.spread(asked.at, margin, pick),
        value=distance[pick],
        limit=found.limit_m[pick],
        thing=np.array(things, dtype=object)[pick],
        why=lambda i, verdict: why(int(pick[i]) if i >= 0 else -1, verdict),
        remarks=(*remarks, *room.free(scene, _limits(scene)[0])),
        drawings=drawings,
        assumptions=(
            "left alone it climbs straight up, flies level and straight, comes straight down; "
            "it evades nothing, and wind does not push it off that line",
        ),
        source=SOURCE,
    )


def _spot(scene: Scene, asked: _Asked, k: int) -> str:
    ride, i = scene.track.ride, int(asked.at[k])
    return say.place(float(ride.along_m[0, i]), float(ride.t_s[i]))


class _Way(NamedTuple):
    """The way home of every sample asked at one return height: climb, level flight, descent, and
    over the launch at that height (left alone right after take-off)."""

    height_m: float
    legs: tuple[home.Legs, ...]


def _fly(scene: Scene, launch_m: Array, xyz_m: Array, height_m: float) -> _Way:
    """Climb, level flight, descent. The ground under the launch is where it lands."""
    site, (limit, ground_limit) = scene.site, _limits(scene)
    top, over = home.level_legs(launch_m, xyz_m, height_m)
    climb = home.legs(site, xyz_m, top, limit, ground_limit)
    level = home.legs(site, top, over, limit, ground_limit)
    foot = np.broadcast_to(launch_m, over.shape)
    circle = CLEAR_CIRCLE_M + scene.aircraft.half_span_m
    highest = int(over[:, 2].argmax())
    down = home.legs(site, over[highest : highest + 1], foot[:1], circle, None)
    above = foot[:1] + np.array([0.0, 0.0, height_m])
    here = home.legs(site, above, above, limit, ground_limit)
    same = np.zeros(len(xyz_m), dtype=np.intp)
    return _Way(height_m, (climb, level, down.of(same), here.of(same)))


def _worst(ways: tuple[home.Legs, ...]) -> tuple[NDArray[np.intp], home.Legs]:
    """Which leg decides, and that leg: broken, then unknown, then the least."""
    which = np.stack([thinning.rank_of(w.margin_m) for w in ways]).argmin(axis=0)
    everything = home.Legs(*(np.concatenate(columns) for columns in zip(*ways, strict=True)))
    return which, everything.of(which * len(which) + np.arange(len(which)))


def _home(scene: Scene) -> Margin:
    launch, asked = scene.site.launch, _asked(scene, EVERY_S)
    if launch is None or math.isnan(launch.xyz_m[2]):
        return _no_launch(scene, asked)
    foot = np.array(launch.xyz_m)
    least = home.least_height(scene.site, foot, asked.xyz_m, *_limits(scene))
    given = scene.site.return_height_m
    height = given if given is not None else least.height_m if least else home.HIGHEST_M
    way = _fly(scene, foot, asked.xyz_m, height)
    which, found = _worst(way.legs)
    margin = found.margin_m
    if given is None:
        margin = np.where(margin < 0.0, margin, np.nan)
    worst = int(thinning.rank_of(margin).argmin())
    start, over = home.level_legs(foot, asked.xyz_m[worst : worst + 1], height)
    path = np.concatenate([start[:, :2], over[:, :2]])
    return _margin(
        scene,
        asked,
        found,
        margin,
        _home_why(scene, asked, way, which, found, least),
        things=[_thing_id(scene, t) for t in found.thing],
        remarks=_home_remarks(scene, asked, foot, way, least),
        drawings=(Drawing("the way home when left alone", path, filled=False),),
    )


def _home_why(
    scene: Scene, asked: _Asked, way: _Way, which: NDArray[np.intp], found: home.Legs,
    least: home.Least | None,
) -> Why:  # fmt: skip
    def why(k: int, verdict: Verdict) -> Words:
        spot, leg = _spot(scene, asked, k), int(which[k])
        if verdict == Verdict.UNKNOWN:
            return _home_unknown(scene, spot, found.unknown[k], least)
        flown = (
            f"climbing straight up from {spot}",
            f"flying home at {way.height_m:.1f} m above the launch from {spot}",
            "coming down at the launch",
            f"right after take-off, {way.height_m:.1f} m above the launch,",
        )[leg]
        it = _named(scene, int(found.thing[k]))
        near = (
            f"comes within {say.metres(float(found.distance_m[k]))} of {it}"
            if found.thing[k] != home.NOTHING
            else "meets nothing within reach"
        )
        reason = f"left alone and {flown} it {near}; {say.metres(float(found.limit_m[k]))} is kept"
        if verdict == Verdict.GO:
            return Words(reason, "nothing to change")
        short = say.rounded_up(float(-found.spare_m[k]), 0.1)
        if leg == 0:
            return Words(
                reason,
                f"keep {short:.1f} m farther from {it} there: no return height cures what stands "
                'in the climb; or set link_lost = "hover" for this shot',
            )
        if leg == 2:
            return Words(reason, f"move the launch {short:.1f} m farther from {it}")
        return Words(reason, _raise(scene, asked, least))

    return why


def _raise(scene: Scene, asked: _Asked, least: home.Least | None) -> str:
    """The return height that clears the level flight, and what else stands against it."""
    if least is None:
        return f"no return height up to {home.HIGHEST_M:.0f} m clears the way: move the launch"
    height = say.rounded_up(least.height_m)
    text = f"raise the return height to {height:g} m: {_named(scene, least.thing)} decides it"
    launch = scene.site.launch
    if launch is None:
        return text
    top, _ = home.level_legs(launch.xyz_m, asked.xyz_m, height)
    climb = home.legs(scene.site, asked.xyz_m, top, *_limits(scene)).spare_m
    k = int(np.argmin(climb))
    if climb[k] < 0.0:
        text += f", but the climb to it is not clear at {_spot(scene, asked, k)}"
    over = _over_ceiling_m(scene, np.array(launch.xyz_m), asked.xyz_m, height)
    if over > 0.0:
        text += (
            f"; that is {over:.0f} m over the ceiling of {scene.rules.height.limit_m:.0f} m on "
            "the way: better launch from higher ground"
        )
    return text


def _over_ceiling_m(scene: Scene, launch_m: Array, xyz_m: Array, height_m: float) -> float:
    """How far above the pack's ceiling the way home leads at most (0 or less: it does not), by
    the pack's own measure; over unknown ground not counted."""
    rule, terrain = scene.rules.height, scene.site.terrain
    start, end = home.level_legs(launch_m, xyz_m, height_m)
    share = np.linspace(0.0, 1.0, 50)[:, None]
    points = (start[:, None] + share * (end - start)[:, None]).reshape(-1, 3)
    over = points[:, 2] - terrain.ground_m(points[:, :2]) - rule.limit_m
    over = np.where(np.isnan(over), -np.inf, over)
    if rule.measured == "nearest-surface" and (over > 0.0).any():
        high = np.flatnonzero(over > 0.0)
        high = high[np.argsort(-over[high])][:500]
        over = terrain.distance_m(points[high]) - rule.limit_m
        over = np.where(np.isinf(over), -np.inf, over)
    return float(over.max())


def _home_remarks(
    scene: Scene, asked: _Asked, launch_m: Array, way: _Way, least: home.Least | None
) -> tuple[Remark, ...]:
    remarks = []
    if least is not None:
        decided = _named(scene, least.thing) if least.thing != home.NOTHING else "nothing"
        remarks.append(
            Remark(
                f"the least return height that clears everything is "
                f"{say.rounded_up(least.height_m):g} m above the launch: {decided} decides it"
            )
        )
    over = _over_ceiling_m(scene, launch_m, asked.xyz_m, way.height_m)
    if over > 0.0:
        rule = scene.rules.height
        lower = say.rounded_down(way.height_m - over)
        remarks.append(
            Remark(
                f"flying home at {way.height_m:g} m above the launch leads {over:.1f} m over the "
                f"ceiling of {rule.limit_m:.0f} m, {rule.measured.replace('-', ' ')}",
                caution=True,
                source=str(rule.source),
                advice=f"a return height of {max(lower, 0.0):g} m stays under it, unless the "
                "flight itself is higher",
            )
        )
    return tuple(remarks)


def _home_unknown(scene: Scene, spot: str, unknown: bool, least: home.Least | None) -> Words:
    if scene.site.return_height_m is None and least is not None:
        limit = GoIf("return_height_m", "at-least", least.height_m, "m")
        height = f"{say.rounded_up(least.height_m):g} m"
        return Words(
            "the height at which it flies home is not known",
            f"give return_height_m of {height} or more: {_named(scene, least.thing)} decides it",
            () if unknown else (limit,),
        )
    limit_m = _limits(scene)[0]
    return Words(
        f"on the way home from {spot} nobody has looked, or the ground or a height is not known",
        f"look there and draw what stands; go if the way home then stays {say.metres(limit_m)} "
        "away from it",
    )


def _no_launch(scene: Scene, asked: _Asked) -> Margin:
    def why(_k: int, _verdict: Verdict) -> Words:
        return Words(
            "where it takes off, or the ground there, is not known, so neither the way home",
            f"draw a place with id `launch` on known ground; go if the way there stays "
            f"{say.metres(_limits(scene)[0])} away from everything",
        )

    nan = np.full(len(asked.at), np.nan)
    found = home.Legs(nan, nan, np.full(len(nan), home.NOTHING), np.ones(len(nan), dtype=bool))
    return _margin(scene, asked, found, nan, why, things=[""] * len(nan))


def _hover(scene: Scene) -> Margin:
    """Where it hovers is judged by clearance; but there it comes down when the battery is low."""
    asked, craft = _asked(scene, EVERY_S), scene.aircraft
    none = np.full(len(asked.at), np.inf)
    nothing = np.full(len(none), home.NOTHING)
    minutes = craft.battery_wh * (1.0 - craft.reserve_fraction) / craft.hover_w * 60.0
    found = home.Legs(none, np.full(len(none), _limits(scene)[0]), nothing, none < 0.0)
    remark = Remark(
        "left alone it hovers where it is until the battery is low, and then comes down there",
        caution=True,
        advice=f"be able to walk to under it within what is left of {minutes:.0f} min, or set "
        'link_lost = "home" with a return height that clears the way',
    )

    def why(_k: int, _verdict: Verdict) -> Words:
        return Words(remark.text, remark.advice)

    return _margin(scene, asked, found, none, why, things=[""] * len(none), remarks=(remark,))


def _land(scene: Scene) -> Margin:
    """Straight down from every sample: things, people and water below."""
    asked, site = _asked(scene, EVERY_S), scene.site
    xy = asked.xyz_m[:, :2]
    ground = site.terrain.ground_m(xy)
    foot = np.column_stack([xy, np.where(np.isnan(ground), asked.xyz_m[:, 2], ground)])
    limit = _limits(scene)[0]
    found = home.legs(site, asked.xyz_m, foot, limit, None)
    things = [_thing_id(scene, t) for t in found.thing]
    names = [_named(scene, t) for t in found.thing]
    for area in site.people:
        if area.state == "closed":
            continue
        keep = limit + area.error_m
        away = _level_m(area, xy)
        nearer = away - keep < found.spare_m
        found = found._replace(
            distance_m=np.where(nearer, away, found.distance_m),
            limit_m=np.where(nearer, keep, found.limit_m),
        )
        label = f"where people may be ({area.name or area.id})"
        things = [area.id if n else t for n, t in zip(nearer, things, strict=True)]
        names = [label if n else t for n, t in zip(nearer, names, strict=True)]
    unlooked = np.isnan(ground) | ~site.looked(xy, ("people",))
    found = found._replace(unknown=found.unknown | unlooked)

    def why(k: int, verdict: Verdict) -> Words:
        spot = _spot(scene, asked, k)
        if verdict == Verdict.UNKNOWN:
            return Words(
                f"nobody has looked what is below at {spot}, or the ground there is not known",
                f"look there and draw it; go if {say.metres(limit)} are clear all the way down",
            )
        away, keep = float(found.distance_m[k]), float(found.limit_m[k])
        near = "with nothing near" if math.isinf(away) else f"{say.metres(away)} from {names[k]}"
        reason = (
            f"left alone it comes straight down {near}, from {spot}; {say.metres(keep)} is kept"
        )
        if verdict == Verdict.GO:
            return Words(reason, "nothing to change")
        short = say.rounded_up(keep - away, 0.1)
        return Words(
            reason, f'keep {short:.1f} m farther from it, or set link_lost = "home" for this shot'
        )

    remarks = _wet(scene, xy)
    return _margin(scene, asked, found, found.margin_m, why, things=things, remarks=remarks)


def _level_m(area: PeopleArea, xy_m: Array) -> Array:
    """Level distance `(m,)` to where people may be, 0 inside."""
    if area.geometry == "polygon":
        away = [np.maximum(-inside_m((ring,), xy_m), 0.0) for ring in area.parts]
    else:
        away = [distance_to_path_m(part, xy_m) for part in area.parts]
    return np.asarray(np.min(away, axis=0))


def _wet(scene: Scene, xy_m: Array) -> tuple[Remark, ...]:
    """Over water (drawn with a level) it is lost, but nobody is hit: a caution."""
    wet = np.zeros(len(xy_m), dtype=bool)
    for water in scene.site.terrain.water:
        wet |= inside_m(water.outline, xy_m) >= 0.0
    if not wet.any():
        return ()
    return (
        Remark(
            f"left alone it comes down on water over {wet.mean():.0%} of the shot",
            caution=True,
            advice=f'set link_lost = "home" for this shot: {(~wet).mean():.0%} of it is over land',
        ),
    )


CHECK = Check(
    id="return",
    family="harm",
    question="does it come down unharmed and harm nobody when it is left alone?",
    unit="m",
    margins=margins,
    wind="none",
    rides="first",
    pointwise=False,
    group="aircraft",
)
