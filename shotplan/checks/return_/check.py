"""What it does when it is left alone: flies home, hovers, or lands where it is."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from shotplan.checks.return_ import alone, home, room, said
from shotplan.checks.return_.said import Asked
from shotplan.kernels.rides import thinning
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.scene import energy, needs
from shotplan.scene.margin import (
    AGAINST,
    Check,
    Drawing,
    Margin,
    Nature,
    Remark,
    Told,
    Why,
    Words,
)
from shotplan.scene.scene import Scene
from shotplan.scene.telling import always, spread

EVERY_S = 0.5  # how often along the flight the way home is flown
SEARCHED_S = 1.5  # in a search, after which it is asked anew
CLEAR_CIRCLE_M = 2.0  # beside the half span, where it comes down at the launch: own choice
SOURCE = "distance to the grown obstacle and to the ground along the way home, common practice"


def margins(scene: Scene) -> tuple[Margin, ...]:
    """By the shot's `link_lost`, from every half second of row 0."""
    if scene.shot.link_lost == "home":
        return (_home(scene),)
    ways = {"hover": _hover, "land": _land}
    return ways[scene.shot.link_lost](scene), *alone.margins(scene)


def _limits(scene: Scene) -> tuple[float, float]:
    """Kept from things, and from the ground (without what the terrain may be off and the low
    things nobody drew)."""
    return scene.keep_m, scene.keep_m


def _asked(scene: Scene) -> Asked:
    every_s = EVERY_S if np.isinf(scene.enough_m) else SEARCHED_S
    index = thinning.every(scene.blind.shape[1], round(every_s / STEP_S))
    return Asked(index, np.array(scene.track.xyz_m[0, index]), *_limits(scene))


def _margin(
    scene: Scene, asked: Asked, found: home.Legs, margin: Array, why: Why, *,
    things: list[str], remarks: tuple[Remark, ...] = (), drawings: tuple[Drawing, ...] = (),
) -> Margin:  # fmt: skip
    """From the samples asked to all of them."""
    some = Margin(
        margin=margin,
        value=np.where(np.isinf(found.distance_m), np.nan, found.distance_m),
        limit=found.limit_m,
        thing=np.array(things, dtype=object),
        why=why,
        remarks=(*remarks, *room.free(scene, asked.limit_m)),
        drawings=drawings,
        assumptions=(
            "left alone it climbs straight up, flies level and straight, comes straight down; "
            "it evades nothing, and wind does not push it off that line",
        ),
        source=SOURCE,
    )
    return spread(some, asked.at, scene.blind.shape[1])


def _fly(scene: Scene, asked: Asked, launch_m: Array, height_m: float) -> tuple[home.Legs, ...]:
    """The way home of every sample asked at one return height: climb, level flight, descent, and
    over the launch at that height (left alone right after take-off). It lands on the
    ground under the launch."""
    site, xyz_m, limit, ground_limit = scene.site, *asked[1:]
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
    return climb, level, down.of(same), here.of(same)


def _worst(ways: tuple[home.Legs, ...]) -> tuple[NDArray[np.intp], home.Legs]:
    """Which leg decides, and that leg: broken, then unknown, then the least."""
    which = np.stack([thinning.rank_of(w.margin_m) for w in ways]).argmin(axis=0)
    everything = home.Legs(*(np.concatenate(columns) for columns in zip(*ways, strict=True)))
    return which, everything.of(which * len(which) + np.arange(len(which)))


def _home(scene: Scene) -> Margin:
    launch, asked = scene.site.launch, _asked(scene)
    if launch is None or math.isnan(launch.xyz_m[2]):
        return _no_launch(scene, asked)
    foot, given = np.array(launch.xyz_m), scene.site.return_height_m
    if given is None and not scene.told:  # broken or not known, but never good
        return _no_launch(scene, asked)
    least = home.least_height(scene.site, foot, *asked[1:]) if scene.told else None
    height = given if given is not None else least.height_m if least else home.HIGHEST_M
    which, found = _worst(_fly(scene, asked, foot, height))
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
        said.home_(scene, asked, foot, height, which, found, least),
        things=[said.thing_id(scene, t) for t in found.thing],
        remarks=said.home_remarks(scene, asked, foot, height, least),
        drawings=(Drawing("the way home when left alone", path, filled=False),),
    )


def _no_launch(scene: Scene, asked: Asked) -> Margin:
    nan = np.full(len(asked.at), np.nan)
    found = home.Legs(nan, nan, np.full(len(nan), home.NOTHING), np.ones(len(nan), dtype=bool))
    why = always(said.no_launch(asked))
    return _margin(scene, asked, found, nan, why, things=[""] * len(nan))


def _hover(scene: Scene) -> Margin:
    """Where it hovers is judged by clearance; there it comes down when the battery is low."""
    asked = _asked(scene)
    none = np.full(len(asked.at), np.inf)
    nothing = np.full(len(none), home.NOTHING)
    found = home.Legs(none, np.full(len(none), asked.limit_m), nothing, none < 0.0)
    remark = said.hovers(energy.hover_minutes(scene))
    why, remarks = always(Words(remark.text)), (remark, *alone.wet(scene, asked.xyz_m[:, :2]))
    return _margin(scene, asked, found, none, why, things=[""] * len(none), remarks=remarks)


def _land(scene: Scene) -> Margin:
    """Straight down from every sample: things, people and water below."""
    asked, site = _asked(scene), scene.site
    xy = asked.xyz_m[:, :2]
    ground = site.terrain.ground_m(xy)
    foot = np.column_stack([xy, np.where(np.isnan(ground), asked.xyz_m[:, 2], ground)])
    found = home.legs(site, asked.xyz_m, foot, asked.limit_m, None)
    things = [said.thing_id(scene, t) for t in found.thing]
    names = [said.named(scene, t) for t in found.thing]
    for area in site.people:
        if area.state == "closed":
            continue
        keep = asked.limit_m + area.error_m
        away = alone.level_m(area, xy)
        nearer = away - keep < found.spare_m
        found = found._replace(
            distance_m=np.where(nearer, away, found.distance_m),
            limit_m=np.where(nearer, keep, found.limit_m),
        )
        label = said.people(area)
        things = [area.id if n else t for n, t in zip(nearer, things, strict=True)]
        names = [label if n else t for n, t in zip(nearer, names, strict=True)]
    unlooked = np.isnan(ground) | ~site.looked(xy, ("people",))
    found = found._replace(unknown=found.unknown | unlooked)

    why = said.land(scene, asked, found, names)
    remarks = alone.wet(scene, xy)
    return _margin(scene, asked, found, found.margin_m, why, things=things, remarks=remarks)


CHECK = Check(
    id="return",
    family="harm",
    group="aircraft",
    question="what if it is left alone?",
    unit="m",
    shown=AGAINST,
    told=Told("left alone, it meets {thing} on its way home", strays="if it comes home lower"),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="never"),
    margins=margins,
    wind="own",
    rides="first",
    pointwise=False,
    sheet="ways home",
    needs=(
        needs.RETURN_HEIGHT,
        needs.LAUNCH.where(needs.homing),
        *needs.looked_for("trees", "buildings", "wires"),
        needs.HEIGHTS,
        needs.WIND.where(lambda given: not needs.homing(given)),
    ),
)
