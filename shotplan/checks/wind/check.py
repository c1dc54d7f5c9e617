"""Whether the wind where it flies is one the aircraft bears: its gusts, what it blows upward on a
slope, what tumbles in the lee."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from shotplan.checks.wind import said
from shotplan.checks.wind.said import SOURCE, UPRIGHT_SOURCE, Blow
from shotplan.kernels.motion.wind import CATEGORIES, UPRIGHT, upright_gust_m_s, usual_gust_m_s
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.day import Weather
from shotplan.scene import local_wind, needs, wind_limits
from shotplan.scene.local_wind import Local
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Told, Why, Words, even
from shotplan.scene.scene import Scene
from shotplan.scene.telling import told

SHARE = 0.05
NOWHERE = "where it flies is not known"


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Its rating or airspeed in the gust; what may lift it; where the air tumbles."""
    blow = _blow(scene)
    main = _borne(scene, blow)
    if blow.local is None or scene.day.weather.wind_m_s is None:
        return (main,)
    return main, _lifted(scene, blow.local), _tumbled(scene, blow.local, blow.gust_m_s)


def _blow(scene: Scene) -> Blow:
    """The gust at every sample."""
    weather = scene.day.weather
    mean, gust, side = weather.wind_m_s, weather.gust_m_s, weather.wind_from_rad
    local = None if side is None else local_wind.local(scene, side)
    exact = mean is not None and gust is not None and (mean == 0.0 or local is not None)
    if mean is not None and mean > 0.0 and local is None:
        strength = _from_anywhere(scene, mean, mean if gust is None else gust)
    elif mean is not None and local is not None:
        strength = local.gust_m_s(mean, mean if gust is None else gust)
    else:
        spread = local_wind.spread(weather)
        strength = np.full(scene.blind.shape, spread * gust if exact and gust else 0.0)
    return Blow(strength, exact, local)


def _from_anywhere(scene: Scene, mean_m_s: float, gust_m_s: float) -> Array:
    """The least the gust can be with no side said: over even ground. A reading on the spot may
    hold any edge, so that of it nothing is known."""
    weather = scene.day.weather
    if weather.measured_at != "forecast":
        return np.zeros(scene.blind.shape)
    read = local_wind.reading_factor(scene.site, weather, 0.0)
    even = local_wind.level(scene.height_m, weather.roughness) / read
    return np.asarray(even * mean_m_s + local_wind.spread(weather) * (gust_m_s - mean_m_s))


def _borne(scene: Scene, blow: Blow) -> Margin:
    """The gust against the lesser of its rating and its greatest airspeed."""
    craft, most = scene.aircraft, wind_limits.most_gust_m_s(scene)
    margin = most - blow.gust_m_s
    if not blow.exact:
        margin = np.where(margin < 0.0, margin, np.nan)
    by_air = craft.max_speed_m_s < craft.max_wind_m_s
    thing = "airspeed" if by_air else "rating"
    return Margin(
        margin=margin,
        value=np.where(np.isnan(margin[0]), np.nan, blow.gust_m_s[0]),
        limit=np.full(margin.shape[1], most),
        thing=np.full(margin.shape[1], thing, dtype=object),
        share=SHARE,
        why=_said(scene, blow),
        remarks=(
            *said.steps(scene, blow),
            *((*said.home(scene, blow), said.table(scene)) if scene.told else ()),
        ),
        assumptions=_assumptions(scene),
        source=SOURCE,
    )


def _said(scene: Scene, blow: Blow) -> Why:
    most = wind_limits.most_gust_m_s(scene)
    by_air = most < scene.aircraft.max_wind_m_s

    def reason(i: int, spot: str) -> str:
        gust = float(blow.gust_m_s[0, i])
        if by_air:
            rated = ": faster than it flies," if gust > most else ", it flies"
        else:
            rated = ": above its rating of" if gust > most else ", rated"
        said = (
            f"gusts reach {'' if blow.exact else 'at least '}{say.speed(gust)} where it flies, "
            f"{spot}{rated} {say.speed(most)}"
        )
        if blow.local is not None and blow.local.air.orography[0, i] > local_wind.FELT:
            edge = float(blow.local.air.orography[0, i])
            said += f"; the edge there lifts the mean by a factor of {edge:.2f}"
        return said

    return told(
        scene,
        reason,
        lambda _i: _wait(scene, blow),
        unknown=lambda _i, spot: _unknown(scene, blow, spot),
    )


def _wait(scene: Scene, blow: Blow) -> str:
    """The wind to wait for, as the weather says it."""
    side, most = scene.day.weather.wind_from_rad, say.speed(wind_limits.most_gust_m_s(scene))
    if side is None or blow.local is None:
        return f"wait for gusts under {most} where it flies, and say where it blows from"
    gusts = wind_limits.gusts_of(scene)
    mean = wind_limits.hard_mean(wind_limits.side_of(scene, side), gusts)
    if math.isnan(mean):
        return f"wait for gusts under {most} where it flies"
    mean = say.rounded_down(mean, 0.1)
    return (
        f"wait until {said.who(scene.day.weather)} says at most {say.speed(mean)} from there, "
        f"gusts {say.speed(gusts.of(mean))}"
    )


def _unknown(scene: Scene, blow: Blow, spot: str) -> Words:
    weather = scene.day.weather
    rating = say.speed(wind_limits.most_gust_m_s(scene))
    if blow.exact:
        return Words(
            f"what the ground makes of the wind is not known, {spot}: terrain is missing below it, "
            "near along the wind, or at the reading's place",
            f"give terrain or surroundings from {local_wind.UPWIND_M:.0f} m upwind to "
            f"{local_wind.DOWNWIND_M:.0f} m downwind; go if gusts then stay under {rating}",
        )
    lacking = {
        "the mean wind": weather.wind_m_s is None,
        "where it blows from": weather.wind_from_rad is None and weather.wind_m_s != 0.0,
        "the gust": weather.gust_m_s is None,
    }
    names = [name for name, lacks in lacking.items() if lacks]
    what = f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]
    limit = wind_limits.go_if(scene)
    worst = (
        ", taken from the side that leaves least room (the table gives the others)"
        if limit is not None and any(key.endswith("from_deg") for key, _ in limit.given)
        else ""
    )
    return Words(
        f"{what} {'are' if len(names) > 1 else 'is'} not known{_usual(weather)}",
        f"give [weather]; go if gusts where it flies stay under {rating}{worst}",
        () if limit is None else (limit,),
    )


def _usual(weather: Weather) -> str:
    """What to expect of a gust that alone nobody gave."""
    if weather.wind_m_s is None or weather.gust_m_s is not None:
        return ""
    usual = say.speed(usual_gust_m_s(weather.wind_m_s))
    return f"; over such a mean it is {usual} in the middle, one hour in twenty over 2.2 times it"


def _lifted(scene: Scene, local: Local) -> Margin:
    """An upper estimate of the updraught against the aircraft's sink."""
    most = scene.aircraft.max_sink_m_s
    mean = float(scene.day.weather.wind_m_s or 0.0)
    up = mean * local.air.updraught * (local.mean if mean else 1.0)

    def advice(i: int) -> str:
        less = say.rounded_up(100.0 * (1.0 - wind_limits.WARY_LIFT * most / up[0, i]), 1.0)
        down = "cannot be sure to come down" if up[0, i] > most else "comes down slowly"
        return f"wait for {less:.0f} % less wind: until then the aircraft {down} there"

    why = told(
        scene,
        lambda i, spot: (
            f"the wind up the slope may lift it at {say.speed(up[0, i])}, {spot}; it "
            f"sinks at {say.speed(most)}"
        ),
        advice,
        nothing="the wind lifts it less than it can sink",
        unknown=Words(NOWHERE, f"go if the updraught is under {say.speed(most)}"),
    )
    wary = wind_limits.WARY_LIFT * most - up
    return _upward(scene, most - up, wary, up[0], most, "updraught", why)


def _tumbled(scene: Scene, local: Local, gust: Array) -> Margin:
    """The lee of drops and ridges: what it can climb and sink against upright gusts."""
    air, most = local.air, wind_limits.most_upright_m_s(scene)
    up = upright_gust_m_s(gust)
    under = say.speed(say.rounded_down(wind_limits.WARY_LEE * most / UPRIGHT, 0.1))

    def advice(_i: int) -> str:
        return (
            f"wait for gusts under {under} where it flies, or a wind from another side (the table "
            "says which)"
        )

    why = told(
        scene,
        lambda i, spot: (
            f"the air tumbles {say.metres(air.away_m[0, i])} behind the brink of a drop of "
            f"{say.metres(air.drop_m[0, i])}, {spot}: gusts of up to {say.speed(up[0, i])} "
            f"upward and downward; it climbs and sinks at {say.speed(most)}"
        ),
        advice,
        nothing="no drop upwind is near enough to make the air tumble",
        unknown=Words(NOWHERE, f"go if gusts stay under {under}"),
    )
    hard = np.where(air.lee, most - up, np.inf)
    wary = np.where(air.lee | air.fading, wind_limits.WARY_LEE * most - up, np.inf)
    return _upward(scene, hard, wary, up[0], most, "lee", why)


def _upward(
    scene: Scene, hard: Array, wary: Array, value: Array, limit: float, thing: str, why: Why
) -> Margin:
    """Refused over the limit, a caution before it. What is to spare under it is no matter beside
    the gust's own margin; where the wind is not known, that says so."""
    some = even(scene, np.inf, why, limit=limit, thing=thing, source=UPRIGHT_SOURCE)
    hard, wary = np.where(hard < 0.0, hard, np.inf), np.where(np.isnan(wary), np.inf, wary)
    return replace(some, margin=hard, soft=wary, value=value, share=SHARE)


def _assumptions(scene: Scene) -> tuple[str, ...]:
    weather = scene.day.weather
    category = CATEGORIES[weather.roughness]
    usual = (wind_limits.USUAL_SOURCE,)
    given = weather.wind_m_s is not None and weather.gust_m_s is not None
    return (
        f"the ground's roughness is category {weather.roughness} of EN 1991-1-4 Table 4.1: "
        f"{category.what} ([weather] roughness)",
        *local_wind.ASSUMPTIONS,
        *(() if given else usual),
    )


CHECK = Check(
    id="wind",
    family="harm",
    group="wind and light",
    question="does it bear the wind?",
    unit="m/s",
    shown=AGAINST,
    told=Told(
        "its gusts are more than it bears",
        strays="if it blows up",
        wrong_by=(
            ("updraught", "the wind up the slope may lift it faster than it sinks"),
            ("lee", "the air tumbles behind the brink faster than it climbs or sinks"),
        ),
        wary_by=(
            ("updraught", "the wind up the slope takes most of what it can sink"),
            ("lee", "the air tumbles behind the brink: it may be thrown up or down"),
        ),
    ),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="never"),
    margins=margins,
    waits=True,
    wind="own",
    rides="first",
    binds="at-most",
    needs=(needs.WIND, needs.WIND_FROM, needs.GUST),
)
