"""Whether there is light: day or night by the rules, how far one sees, what the eyes and the
picture get."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from shotplan.kernels.light import light
from shotplan.kernels.motion.sensing import Sector, counts
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.model.rules import LimitRule
from shotplan.scene import needs, sun, sunlight
from shotplan.scene.margin import Check, GoIf, Margin, Nature, Remark, Told, Why, Words, even
from shotplan.scene.picture import AIM_M, to_rider_m
from shotplan.scene.scene import Scene
from shotplan.scene.telling import always, no_ground, told

LIGHT_SOURCE = (
    "light by the sun's height under a clear sky: sunset about 400 lx, end of civil twilight "
    "3.4 lx, full sun about 100,000 lx (from memory); an overcast takes 2 to 4 stops of it"
)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """The sun's height against what the pack asks of it; the visibility where the pack asks."""
    seen = scene.rules.least_visibility_m
    return (_sun(scene), *([_visibility(scene, seen)] if seen else []))


def _sun(scene: Scene) -> Margin:
    rule = scene.rules.day
    limits = sunlight.limits(rule, scene.moments[0], scene.day.timezone, scene.site.frame)
    height = np.degrees(scene.sun_rad[1])
    hard = _over(height, limits.none)
    soft = _over(height, limits.lamp)
    if limits.none is None and limits.lamp is not None:
        hard = np.maximum(soft, 0.0)  # never broken by the pack, only to be flown with a lamp
    decides = limits.none or limits.lamp
    return Margin(
        margin=hard,
        soft=soft,
        value=height,
        limit=np.full(height.size, decides.elevation_deg if decides else np.nan),
        thing=np.full(height.size, "sun", dtype=object),
        why=_said(scene, limits, height),
        remarks=(
            *_eyes(scene),
            Remark(_golden(scene)),
            Remark(_sides(scene)),
            Remark(_direct(scene)),
        ),
        assumptions=(
            LIGHT_SOURCE,
            f"under crowns and in woods {light.UNDER_TREES_STOPS:g} stops less (3 to 5, from "
            f"memory); a sun within {light.DAZZLE_DEG:g}° of an eye's axis blinds it where "
            "no known ground hides it; an eye that looks down does not count over water",
            "crowns and woods let no sun through; the earth's curve and refraction are left out",
            "the sun is that of the first take",
        ),
        source=str(rule.source) if rule else "",
    )


def _over(height_deg: Array, limit: sunlight.Limit | None) -> Array:
    return np.full(height_deg.size, np.inf) if limit is None else height_deg - limit.elevation_deg


def _said(scene: Scene, limits: sunlight.Limits, height_deg: Array) -> Why:
    rule, nothing = scene.rules.day, f"{scene.rules.id} asks nothing of the sun"
    if rule is None:
        return always(Words(nothing))

    def stands(i: int) -> str:
        at = scene.moments[i].astimezone(scene.day.timezone)
        return f"at {say.clock(at)} the sun is {_high(float(height_deg[i]))}"

    def broken(i: int) -> sunlight.Limit | None:
        return next((x for x in limits if x and height_deg[i] < x.elevation_deg), None)

    def reason(i: int, _spot: str) -> str:
        limit = broken(i)
        if limit is None:
            return stands(i)
        edge = f"{stands(i)}; under {limit.elevation_deg:.1f}° {scene.rules.id}"
        if limit is limits.none:
            return f"{edge} forbids flying"
        lamp = rule.light or f"the light that {rule.source} asks for"
        return f"{edge} wants {lamp} on the aircraft"

    def advice(i: int) -> str:
        limit = broken(i)
        assert limit is not None
        starts = _starts(scene, limit)
        return starts if limit is limits.none else f"carry it, or {starts}"

    def unknown(i: int, _spot: str) -> Words:
        what = f"{stands(i)}, but where the rider is over unknown ground nothing is judged"
        return no_ground(what, "the sun is then as high")

    return told(scene, reason, advice, unknown=unknown, nothing=nothing)


def _high(degrees: float) -> str:
    return f"{abs(degrees):.1f}° {'over' if degrees >= 0.0 else 'under'} the horizon"


def _starts(scene: Scene, limit: sunlight.Limit) -> str:
    """From when until when the shot may start that day to stay above a limit."""
    zone = scene.day.timezone
    lasts = scene.moments[-1] - scene.moments[0]
    said = []
    if limit.morning is not None:
        said.append(f"not before {say.clock(_next_minute(limit.morning.astimezone(zone)))}")
    if limit.evening is not None:
        said.append(f"at {say.clock((limit.evening - lasts).astimezone(zone))} at the latest")
    if not said:
        return f"choose another date: the sun stays under {limit.elevation_deg:.1f}° that day"
    return "start the shot " + " and ".join(said)


def _next_minute(at: datetime) -> datetime:
    whole = at.replace(second=0, microsecond=0)
    return whole if whole == at else whole + timedelta(minutes=1)


def _visibility(scene: Scene, rule: LimitRule) -> Margin:
    """How far one can see, against what the pack asks."""
    has, least = scene.day.weather.visibility_m, f"{math.ceil(rule.value)} m"
    asks, wait = f"{scene.rules.id} asks for {rule.value:.0f} m", f"wait until one can see {least}"
    words = Words(f"one can see {has or 0.0:.0f} m that day; {asks}", wait)
    if has is None:
        words = Words(
            f"how far one can see that day is not known; {asks}",
            f"give [weather] visibility_m; go if it is {least} or more",
            (GoIf("weather.visibility_m", "at-least", float(math.ceil(rule.value)), "m"),),
        )
    why = told(scene, lambda _i, _spot: words.reason, lambda _i: wait, unknown=words)
    value = math.nan if has is None else has
    seen = even(scene, value - rule.value, why, value=value, limit=rule.value, thing="visibility")
    return replace(seen, unit="m", source=str(rule.source))


def _eyes(scene: Scene) -> list[Remark]:
    """Which of the aircraft's eyes do not count, why and for how long."""
    remarks = []
    craft, had = scene.aircraft, scene.light
    enough = had._replace(lux=np.inf)
    heading = scene.track.heading_rad[:1]
    course = np.arctan2(scene.track.velocity_m_s[:1, :, 0], scene.track.velocity_m_s[:1, :, 1])
    dark: dict[float, list[str]] = {}
    for index, sector in enumerate(craft.senses):
        needs = craft.least_light_lux[index] if index < len(craft.least_light_lux) else 0.0
        if (had.lux[0] < needs).any():
            dark.setdefault(needs, []).append(_eye(sector))
        lost = ~counts(sector, 0.0, _row(enough), heading, course)
        if lost.any():
            cause = "water below" if sector.looks == "below" else "the low sun in it"
            remarks.append(
                Remark(
                    f"the eye that looks {_eye(sector)} does not count for "
                    f"{say.seconds(float(lost.sum() * STEP_S))}: {cause}"
                )
            )
    return [*(_dark(scene, needs, eyes) for needs, eyes in dark.items()), *remarks]


def _row(had: light.Light) -> light.Light:
    """The light of row 0."""
    return had._replace(over_water=had.over_water[:1])


def _eye(sector: Sector) -> str:
    """`ahead`, `behind`, `to the right`, `all round`, `down`: where an eye looks."""
    if sector.looks != "around":
        return "down" if sector.looks == "below" else "up"
    if sector.width_rad > math.pi:
        return "all round"
    middle = math.degrees(sector.from_rad + sector.width_rad / 2.0)
    return ("ahead", "to the right", "behind", "to the left")[round(middle / 90.0) % 4]


def _dark(scene: Scene, needs: float, eyes: list[str]) -> Remark:
    """A caution: it gets too dark for eyes that need so much light."""
    lux = scene.light.lux[0]
    dark = lux < needs
    under = bool((scene.under_trees[0] & dark).any())
    open_lux = needs * 2.0**light.UNDER_TREES_STOPS if under else needs
    elevation = float(light.elevation_deg(open_lux))
    frame, zone = scene.site.frame, scene.day.timezone
    noon = sun.day_of(scene.moments[0], zone, frame.lon_deg, frame.lat_deg).noon
    passed = sun.crossings(noon, elevation, frame.lon_deg, frame.lat_deg)
    where = " under the trees" if under else ""
    return Remark(
        f"for {say.seconds(float(dark.sum() * STEP_S))} there are only {_lux(float(lux.min()))}"
        f"{where}; its eyes that look {' and '.join(eyes)} need {_lux(needs)} and do not count",
        caution=True,
        source=LIGHT_SOURCE,
        advice=f"{_starts(scene, sunlight.Limit(elevation, *passed))}, while there is light for "
        "its eyes",
    )


def _lux(value: float) -> str:
    return f"{value:,.0f} lx" if value >= 10.0 else f"{value:.1f} lx"


def _golden(scene: Scene) -> str:
    """The golden hours of the day, and whether the shot is in one."""
    frame, zone = scene.site.frame, scene.day.timezone
    day = sun.day_of(scene.moments[0], zone, frame.lon_deg, frame.lat_deg)
    spans = sunlight.golden(day, frame)
    low, high = sunlight.GOLDEN_DEG
    convention = f"golden hour (sun {low:.0f} to {high:.0f}° high, a convention)"
    if not spans:
        return f"no {convention} that day"
    within = any(a <= scene.moments[0] and scene.moments[-1] <= b for a, b in spans)
    times = " and ".join(f"{say.clock(a)} to {say.clock(b)}" for a, b in spans)
    return f"{convention}: {times}; this shot is {'in' if within else 'outside'} it"


def _sides(scene: Scene) -> str:
    """From which side the light falls on the rider, as filmed."""
    if (scene.sun_rad[1] <= 0.0).all():
        return "the sun is down: no light from a side"
    which = light.side(to_rider_m(scene), scene.toward_sun)
    labels = [f"{light.SIDES[k]} light" for k in which]
    return f"on the rider as filmed: {say.stretches(scene.track.ride.along_m[0], labels)}"


def _direct(scene: Scene) -> str:
    """Where the rider is in direct sun, and what shades him elsewhere."""
    points = scene.track.ride.xyz_m[0] + np.array([0.0, 0.0, AIM_M])
    found = sunlight.direct(scene.site, points, scene.toward_sun)
    if (found.by == "horizon").all():
        return "the sun is down: no direct sun on the rider"
    things = {t.id: t for t in scene.site.obstacles.things}
    names = {"ground": "shade of the ground", "horizon": "no sun", "": "direct sun"}
    names |= {i: f"shade of {t.label}" for i, t in things.items()}
    labels = [
        "unknown light" if np.isnan(lit) else names[by]
        for lit, by in zip(found.lit, found.by, strict=True)
    ]
    along = scene.track.ride.along_m[0]
    said = f"the rider is in {say.stretches(along, labels, least_s=0.0)}"
    long = [things[b] for b in dict.fromkeys(found.by) if b in things]
    if long:
        tallest = max(long, key=lambda t: t.height_m)
        elevation = scene.sun_rad[1][found.by == tallest.id]
        throws = float(light.shadow_m(np.array(tallest.height_m), elevation).max())
        said += f"; {tallest.label}, {tallest.height_m:.0f} m high, throws {throws:.0f} m of shadow"
    if np.isfinite(found.known_m).any():
        said += (
            f"; the ground toward the sun is known for {float(found.known_m.min()):.0f} m only, a "
            f"hill beyond that over {math.degrees(float(scene.sun_rad[1].min())):.0f}° shades it"
        )
    return said


CHECK = Check(
    id="light",
    family="rule",
    group="wind and light",
    question="is there light enough?",
    unit="°",
    shown="the sun at {value}, {limit}",
    told=Told("there is too little light", strays=""),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="never"),
    margins=margins,
    waits=True,
    wind="none",
    rides="first",
    on_terrain=False,
    needs=(needs.VISIBILITY.where(lambda given: given.rules.least_visibility_m is not None),),
)
