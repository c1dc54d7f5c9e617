"""What is said of it when it is left alone."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.checks.return_ import home
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.site import PeopleArea
from shotplan.scene.margin import GoIf, Remark, Why, Words
from shotplan.scene.scene import Scene
from shotplan.scene.telling import always, no_ground, place, told

NO_GROUND = no_ground("where it flies is not known, {spot}", "nobody is then below it")
ALONE_SOURCE = (
    "own settings: above somebody is within 2 m and half the span, level; it is sure to stay in up "
    "to half its top speed of mean wind"
)


class Asked(NamedTuple):
    """Row 0 every so often: `at (m,)` of its samples, `xyz_m (m, 3)`; what is kept from things,
    and from the ground (without the low things nobody drew)."""

    at: NDArray[np.intp]
    xyz_m: Array
    limit_m: float
    ground_limit_m: float


def named(scene: Scene, thing: int) -> str:
    """What a leg comes near, as a person calls it."""
    if thing >= 0:
        return scene.site.obstacles.things[thing].label
    return "the ground" if thing == home.GROUND else "nothing"


def thing_id(scene: Scene, thing: int) -> str:
    """The same as a margin's `thing`."""
    if thing >= 0:
        return scene.site.obstacles.things[thing].id
    return "ground" if thing == home.GROUND else ""


def home_(
    scene: Scene, asked: Asked, launch_m: Array, height_m: float, which: NDArray[np.intp],
    found: home.Legs, least: home.Least | None,
) -> Why:  # fmt: skip
    """The way home; `which` leg of it decides."""

    def reason(k: int, spot: str) -> str:
        flown = (
            f"climbing straight up from {spot}",
            f"flying home at {height_m:.1f} m above the launch from {spot}",
            "coming down at the launch",
            f"right after take-off, {height_m:.1f} m above the launch,",
        )[which[k]]
        near = "meets nothing within reach"
        if found.thing[k] != home.NOTHING:
            near = (
                f"comes within {say.metres(found.distance_m[k])} of {named(scene, found.thing[k])}"
            )
        return f"left alone and {flown} it {near}; {say.metres(found.limit_m[k])} is kept"

    def advice(k: int) -> str:
        short, it = say.rounded_up(float(-found.spare_m[k]), 0.1), named(scene, found.thing[k])
        if which[k] == 0:
            return (
                f"keep {short:.1f} m farther from {it} there: no return height cures what stands "
                'in the climb; or set link_lost = "hover" for this shot'
            )
        if which[k] == 2:
            return f"move the launch {short:.1f} m farther from {it}"
        return _raise(scene, asked, launch_m, least)

    def unknown(k: int, _spot: str) -> Words:
        return _home_unknown(scene, asked, bool(found.unknown[k]), least)

    nothing = reason(-1, place(scene, int(asked.at[-1])))
    return told(scene, reason, advice, unknown=unknown, nothing=nothing, at=asked.at)


def _raise(scene: Scene, asked: Asked, launch_m: Array, least: home.Least | None) -> str:
    """The return height that clears the level flight, and what else stands against it."""
    if least is None:
        return f"no return height up to {home.HIGHEST_M:.0f} m clears the way: move the launch"
    height = say.rounded_up(least.height_m)
    text = f"raise the return height to {height:g} m: {named(scene, least.thing)} decides it"
    top, _ = home.level_legs(launch_m, asked.xyz_m, height)
    climb = home.legs(scene.site, asked.xyz_m, top, *asked[2:]).spare_m
    k = int(np.argmin(climb))
    if climb[k] < 0.0:
        text += f", but the climb to it is not clear at {place(scene, int(asked.at[k]))}"
    over = _over_ceiling_m(scene, asked, launch_m, height)
    if over > 0.0:
        text += (
            f"; that is {over:.0f} m over the ceiling of {scene.rules.height.limit_m:.0f} m on "
            "the way: better launch from higher ground"
        )
    return text


def home_remarks(
    scene: Scene, asked: Asked, launch_m: Array, height_m: float, least: home.Least | None
) -> tuple[Remark, ...]:
    """The least return height, and how far the one flown at leads over the ceiling."""
    remarks = []
    if least is not None:
        remarks.append(
            Remark(
                "the least return height that clears everything is "
                f"{say.rounded_up(least.height_m):g} m above the launch: "
                f"{named(scene, least.thing)} decides it"
            )
        )
    remarks += _pushed(scene, launch_m, height_m)
    over = _over_ceiling_m(scene, asked, launch_m, height_m)
    if over > 0.0:
        rule = scene.rules.height
        lower = say.rounded_down(height_m - over)
        remarks.append(
            Remark(
                f"flying home at {height_m:g} m above the launch leads {over:.1f} m over the "
                f"ceiling of {rule.limit_m:.0f} m, {rule.measured.replace('-', ' ')}",
                caution=True,
                source=str(rule.source),
                advice=f"a return height of {max(lower, 0.0):g} m stays under it, unless the "
                "flight itself is higher",
            )
        )
    return tuple(remarks)


def _pushed(scene: Scene, launch_m: Array, height_m: float) -> list[Remark]:
    """What stands so near to where it comes down that a gust may push it there before it holds
    against it (a gust into a tree on the approach: AAIB, 6 January 2023)."""
    weather, craft = scene.day.weather, scene.aircraft
    if weather.gust_m_s is None or weather.wind_m_s is None:
        return []
    push = (weather.gust_m_s - weather.wind_m_s) * craft.reaction_s
    top = launch_m + np.array([0.0, 0.0, height_m])
    down = home.legs(scene.site, top[None], launch_m[None], 0.0, None, unknown=False)
    near = float(down.distance_m[0])
    short = push + craft.half_span_m - near
    if not short > 0.0 or not near > 0.0:
        return []
    what = named(scene, int(down.thing[0]))
    return [
        Remark(
            f"coming down at the launch it passes {what} {say.metres(near)} away, and a gust of "
            f"{say.speed(weather.gust_m_s)} may push it {say.metres(push)} before it holds "
            f"against it: land it by hand, or launch {say.rounded_up(short):.1f} m farther from "
            f"{what}",
            source=f"gust less mean over its reaction of {say.seconds(craft.reaction_s)}: own",
        )
    ]


def _home_unknown(scene: Scene, asked: Asked, unknown: bool, least: home.Least | None) -> Words:
    if scene.site.return_height_m is None and least is not None:
        limit = GoIf("return_height_m", "at-least", least.height_m, "m")
        height = f"{say.rounded_up(least.height_m):g} m"
        return Words(
            "the height at which it flies home is not known",
            f"give return_height_m of {height} or more: {named(scene, least.thing)} decides it",
            () if unknown else (limit,),
        )
    return Words(
        "on the way home from {spot} nobody has looked, or the ground (which coarse terrain "
        "does not tell) or a height is not known",
        "look there and draw what stands; go if the way home then stays "
        f"{say.metres(asked.limit_m)} away from it",
    )


def _over_ceiling_m(scene: Scene, asked: Asked, launch_m: Array, height_m: float) -> float:
    rule, terrain = scene.rules.height, scene.site.terrain
    return home.over_ceiling_m(terrain, rule, launch_m, asked.xyz_m, height_m)


def no_launch(asked: Asked) -> Words:
    """Nobody knows where home is."""
    return Words(
        "where it takes off, or the ground there, is not known, so neither the way home",
        "draw a place with id `launch` on known ground; go if the way there stays "
        f"{say.metres(asked.limit_m)} away from everything",
    )


def hovers(minutes: float) -> Remark:
    """Where it comes down in the end."""
    return Remark(
        "left alone it hovers where it is until the battery is low, and then comes down there",
        advice=f"be able to walk to under it within what is left of {minutes:.0f} min",
    )


def people(area: PeopleArea) -> str:
    """`where people may be (footpath)`."""
    return f"where people may be ({area.name or area.id})"


def above(scene: Scene, names: list[str], away_m: Array, room_m: float) -> Why:
    """Right above somebody; `names`, `away_m (n,)` who is nearest and how far, level."""
    lands = scene.shot.link_lost == "land"
    what = "it lands where it is" if lands else "it hovers until the battery is low and comes down"

    def reason(i: int, spot: str) -> str:
        where = "above" if away_m[i] < room_m else f"{say.metres(away_m[i])} level from"
        return f"left alone {what}: {where} {names[i]}, {spot}"

    def advice(i: int) -> str:
        more = say.rounded_up(room_m - float(away_m[i]), 0.1)
        return f'fly {more:.1f} m farther to the side, or set link_lost = "home" for this shot'

    return told(scene, reason, advice, unknown=NO_GROUND)


def blown(scene: Scene, holds_m_s: float) -> Why:
    """In a wind it may not hold against."""
    most, blow = say.speed(scene.aircraft.max_speed_m_s), scene.wind_m_s
    holds = say.speed(holds_m_s)
    if blow is None:
        limit = GoIf("weather.wind_m_s", "at-most", holds_m_s, "m/s")
        return always(
            Words(
                "the mean wind is not known, so neither whether it stays where it is left alone",
                f"give [weather]; {limit.text}, half of its top speed, or set "
                'link_lost = "home" for this shot',
                (limit,),
            )
        )
    mean, to = say.speed(float(np.hypot(blow[0], blow[1]))), say.compass(math.atan2(*blow[:2]))
    return told(
        scene,
        lambda _i, _spot: (
            f"left alone in a mean wind of {mean}, it has {most} at most: in a gust, or with a "
            f"low battery, it drifts away to the {to}"
        ),
        lambda _i: f'wait for {holds} of mean wind or less, or set link_lost = "home"',
        unknown=NO_GROUND,
    )


def land(scene: Scene, asked: Asked, found: home.Legs, names: list[str]) -> Why:
    """Straight down; `names (m,)` of what it comes near."""

    def reason(k: int, spot: str) -> str:
        away = float(found.distance_m[k])
        near = "with nothing near" if math.isinf(away) else f"{say.metres(away)} from {names[k]}"
        kept = say.metres(found.limit_m[k])
        return f"left alone it comes straight down {near}, from {spot}; {kept} is kept"

    def advice(k: int) -> str:
        short = say.rounded_up(float(-found.spare_m[k]), 0.1)
        return f'keep {short:.1f} m farther from it, or set link_lost = "home" for this shot'

    unknown = Words(
        "nobody has looked what is below at {spot}, or the ground there is not known",
        f"look there and draw it; go if {say.metres(asked.limit_m)} are clear all the way down",
    )
    nothing = reason(-1, place(scene, int(asked.at[-1])))
    return told(scene, reason, advice, unknown=unknown, nothing=nothing, at=asked.at)


def wet(flags: Bools) -> tuple[Remark, ...]:
    """Over water it is lost, but nobody is hit: a caution."""
    if not flags.any():
        return ()
    return (
        Remark(
            f"left alone it comes down on water over {flags.mean():.0%} of the shot",
            caution=True,
            advice='set link_lost = "home" for this shot: '
            f"{(~flags).mean():.0%} of it is over land",
        ),
    )
