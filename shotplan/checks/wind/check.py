"""Whether the wind where it flies is one the aircraft bears: its rating, its airspeed, its sink."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from shotplan.checks.wind import said
from shotplan.checks.wind.said import LEE_SOURCE, SOURCE, Blow
from shotplan.kernels.ground.edges import LEE_HEIGHTS
from shotplan.kernels.motion.wind import CATEGORIES, airspeed_needed
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.scene import local_wind, wind_limits
from shotplan.scene.local_wind import Local
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Told, Why, Words, even
from shotplan.scene.scene import Scene
from shotplan.scene.telling import told

SHARE = 0.05
NOWHERE = "where it flies is not known"


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Rating and airspeed in the gust; as cautions what may lift it and where the air tumbles."""
    blow = _blow(scene)
    main = _borne(scene, blow)
    if blow.local is None or not scene.day.weather.wind_m_s:
        return (main,)
    return main, _lifted(scene, blow.local), _tumbled(scene, blow.local, blow.gust_m_s)


def _blow(scene: Scene) -> Blow:
    """The gust at every sample and the airspeed along the track in it."""
    weather = scene.day.weather
    mean, gust, side = weather.wind_m_s, weather.gust_m_s, weather.wind_from_rad
    local = None if side is None else local_wind.local(scene, side)
    moving = scene.track.velocity_m_s[..., :2]
    exact = mean is not None and gust is not None and (mean == 0.0 or local is not None)
    if mean is not None and mean > 0.0 and local is None:
        strength = _from_anywhere(scene, mean, mean if gust is None else gust)
    elif mean is not None and local is not None:
        strength = local.gust_m_s(mean, mean if gust is None else gust)
    else:
        spread = local_wind.spread(weather)
        strength = np.full(scene.blind.shape, spread * gust if exact and gust else 0.0)
    if local is None or side is None:
        return Blow(strength, np.linalg.norm(moving, axis=-1) + strength, exact, None)
    air = airspeed_needed(moving, strength[..., None] * local_wind.toward(side))
    return Blow(strength, air, exact, local)


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
    """The smaller of what the rating leaves and what the airspeed leaves."""
    craft = scene.aircraft
    rated, fast = craft.max_wind_m_s - blow.gust_m_s, craft.max_speed_m_s - blow.airspeed_m_s
    if blow.exact:
        margin = np.minimum(rated, fast)
        by_air = (fast < rated)[0]
    else:
        margin = np.where(rated < 0.0, rated, np.nan)
        by_air = np.zeros(margin.shape[1], dtype=bool)
    value = np.where(by_air, blow.airspeed_m_s[0], blow.gust_m_s[0])
    return Margin(
        margin=margin,
        value=np.where(np.isnan(margin[0]), np.nan, value),
        limit=np.where(by_air, craft.max_speed_m_s, craft.max_wind_m_s),
        thing=np.where(by_air, "airspeed", "rating").astype(object),
        share=SHARE,
        why=_said(scene, blow),
        remarks=(*said.steps(scene, blow), *said.home(scene, blow), said.table(scene)),
        assumptions=_assumptions(scene),
        source=SOURCE,
    )


def _said(scene: Scene, blow: Blow) -> Why:
    craft = scene.aircraft

    def reason(i: int, spot: str) -> str:
        gust, air = float(blow.gust_m_s[0, i]), float(blow.airspeed_m_s[0, i])
        rated = ": above its rating of" if gust > craft.max_wind_m_s else ", rated"
        said = (
            f"gusts reach {'' if blow.exact else 'at least '}{say.speed(gust)} where it flies, "
            f"{spot}{rated} {say.speed(craft.max_wind_m_s)}"
        )
        if blow.local is not None and blow.local.air.orography[0, i] > local_wind.FELT:
            edge = float(blow.local.air.orography[0, i])
            said += f"; the edge there lifts the mean by a factor of {edge:.2f}"
        if blow.exact:
            has = say.speed(craft.max_speed_m_s)
            said += f"; it takes {say.speed(air)} through the air of {has} it has"
        return said

    return told(
        scene,
        reason,
        lambda _i: _wait(scene, blow),
        unknown=lambda _i, spot: _unknown(scene, blow, spot),
    )


def _wait(scene: Scene, blow: Blow) -> str:
    """The wind to wait for, as the weather says it."""
    side = scene.day.weather.wind_from_rad
    if side is None or blow.local is None:
        most = scene.aircraft.max_wind_m_s
        return f"wait for gusts under {say.speed(most)} where it flies, and say where it blows from"
    ratio = wind_limits.gust_ratio(scene)
    mean = wind_limits.hard_mean(wind_limits.side_of(scene, side), ratio)
    if math.isnan(mean):
        return f"wait for gusts under {say.speed(scene.aircraft.max_wind_m_s)} where it flies"
    mean = say.rounded_down(mean, 0.1)
    advice = (
        f"wait until {said.who(scene.day.weather)} says at most {say.speed(mean)} from there, "
        f"gusts {say.speed(mean * ratio)}"
    )
    if float(np.nanmax(blow.local.air.orography)) > local_wind.FELT:
        advice += "; or fly farther back from the edge"
    return advice


def _unknown(scene: Scene, blow: Blow, spot: str) -> Words:
    weather = scene.day.weather
    rating = say.speed(scene.aircraft.max_wind_m_s)
    if blow.exact:
        return Words(
            f"what the ground makes of the wind is not known, {spot}: terrain is missing below it, "
            "near along the wind, or at the reading's place",
            f"give terrain from {local_wind.UPWIND_M:.0f} m upwind to "
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
        f"{what} {'are' if len(names) > 1 else 'is'} not known",
        f"give [weather]; go if gusts where it flies stay under {rating}{worst}",
        () if limit is None else (limit,),
    )


def _lifted(scene: Scene, local: Local) -> Margin:
    """A bound of the updraught against the aircraft's sink."""
    most = scene.aircraft.max_sink_m_s
    up = local.mean * float(scene.day.weather.wind_m_s or 0.0) * local.air.updraught

    def advice(i: int) -> str:
        less = say.rounded_up(100.0 * (1.0 - most / float(up[0, i])), 1.0)
        return (
            f"wait for {less:.0f} % less wind, or fly farther from the slope: it may not come down "
            "there"
        )

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
    return _softly(scene, most - up, up[0], most, "updraught", why, "mean wind · sin(slope)")


def _tumbled(scene: Scene, local: Local, gust: Array) -> Margin:
    """The lee of drops and ridges: turbulent, not modelled, a caution unless the wind is light."""
    drop, away, most = local.air.drop_m[0], local.air.away_m[0], wind_limits.LEE_M_S

    def advice(i: int) -> str:
        return (
            f"wait for gusts under {say.speed(most)} or a wind from another side (the table says "
            f"which), or stay {LEE_HEIGHTS:.0f} heights from that brink, "
            f"{say.metres(LEE_HEIGHTS * drop[i])}"
        )

    why = told(
        scene,
        lambda i, spot: (
            f"it flies in the lee, {say.metres(away[i])} behind the brink of a drop of "
            f"{say.metres(drop[i])}, {spot}: turbulent, not modelled"
        ),
        advice,
        nothing="no drop upwind is near enough to shelter it",
        unknown=Words(NOWHERE, f"go if gusts stay under {say.speed(most)}"),
    )
    soft = np.where(local.air.lee, most - gust, np.inf)
    return _softly(scene, soft, gust[0], most, "lee", why, LEE_SOURCE)


def _softly(
    scene: Scene, soft: Array, value: Array, limit: float, thing: str, why: Why, source: str
) -> Margin:
    """Only ever a caution."""
    some = even(scene, np.inf, why, limit=limit, thing=thing, source=source)
    return replace(some, soft=np.where(np.isnan(soft), np.inf, soft), value=value, share=SHARE)


def _assumptions(scene: Scene) -> tuple[str, ...]:
    weather = scene.day.weather
    category = CATEGORIES[weather.roughness]
    usual = (wind_limits.USUAL_GUST_SOURCE,)
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
    told=Told("the wind is more than it bears", strays="if it blows up"),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="never"),
    margins=margins,
    wind="own",
    rides="first",
    binds="at-most",
)
