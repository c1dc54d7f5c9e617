"""Whether a take and the way home fit into one battery, and how many of them do."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import numpy as np

from shotplan.model import say
from shotplan.scene import energy, needs, timeline
from shotplan.scene.margin import Check, GoIf, Margin, Nature, Remark, Told, Why, Words, even
from shotplan.scene.scene import Scene
from shotplan.scene.telling import always, told

COLDEST_C = -10.0
COLD_SOURCE = "-10 °C is the usual lower end in manuals (from memory, unchecked)"
WARM_C = 15.0  # the cold takes nothing
STRONGEST_M_S = 40.0  # no wind beyond this is asked about
SOURCE = "reserve_fraction of the aircraft; landing with at least 20 % left is common practice"


def margins(scene: Scene) -> tuple[Margin, ...]:
    """From take-off to each sample and home from there, as a share of what a battery gives: in the
    mean wind; softly with the gust blowing all the way home."""
    known = energy.air_of(scene)
    complete = known is not None and known.temperature_c is not None
    best = energy.air(0.0, 0.0, 0.0, WARM_C)
    flight = energy.flight_of(scene, known if known is not None and complete else best)
    if flight is None:
        none = even(scene, np.nan, always(_no_launch(scene)), limit=1.0, thing="battery")
        return (replace(none, assumptions=energy.ASSUMPTIONS, source=SOURCE),)
    share = flight.need_wh / flight.usable_wh
    # What is not known can only make it worse than calm and warm.
    value = share if complete else np.where(share > 1.0, share, np.nan)
    remarks = (*_takes(scene, flight), *_cold(scene), *_light(scene, flight)) if complete else ()
    return (
        Margin(
            margin=1.0 - value,
            soft=1.0 - flight.gusty_wh / flight.usable_wh if complete else None,
            value=value,
            limit=np.ones(len(value)),
            thing=np.full(len(value), "battery", dtype=object),
            why=_said(scene, flight, complete),
            remarks=remarks,
            assumptions=energy.ASSUMPTIONS,
            source=SOURCE,
        ),
    )


def _said(scene: Scene, flight: energy.Flight, complete: bool) -> Why:
    def gusty(i: int) -> bool:
        """Whether only the gust makes it too much."""
        return bool(complete and flight.need_wh[i] <= flight.usable_wh < flight.gusty_wh[i])

    def unknown(i: int, spot: str) -> Words:
        if not complete:
            return _no_weather(scene)
        return Words(_reason(scene, flight, i, spot, False), _advice(scene, flight, i, False))

    return told(
        scene,
        lambda i, spot: _reason(scene, flight, i, spot, gusty(i)),
        lambda i: _advice(scene, flight, i, gusty(i)),
        unknown=unknown,
    )


def _reason(scene: Scene, flight: energy.Flight, i: int, spot: str, gusty: bool) -> str:
    if math.isinf(flight.need_wh[i]):
        most = say.speed(scene.aircraft.max_speed_m_s)
        return f"it flies {most} at most and cannot come home against the wind, {spot}"
    need = float(flight.gusty_wh[i] if gusty else flight.need_wh[i])
    if gusty and math.isinf(need):
        gust = say.speed(scene.day.weather.gust_m_s or 0.0)
        return f"a gust of {gust} all the way home would hold it where it is, {spot}"
    against = "against the gust all the way home" if gusty else "in the mean wind"
    return (
        f"way out, the shot to {spot} and home {against} take {need:.1f} Wh; a battery gives "
        f"{flight.usable_wh:.1f} Wh down to the reserve"
    )


def _advice(scene: Scene, flight: energy.Flight, i: int, gusty: bool) -> str:
    """A battery that does it; where the shot would have to end with this one."""
    need = flight.gusty_wh if gusty else flight.need_wh
    if math.isinf(need[i]):
        wind = "gusts" if gusty else "a mean wind"
        return f"wait for {wind} well under {say.speed(scene.aircraft.max_speed_m_s)}"
    share = flight.usable_wh / scene.aircraft.battery_wh
    wanted = say.rounded_up(float(flight.gusty_wh.max()) / share, 0.1)
    if math.isinf(wanted):
        wanted = say.rounded_up(float(need.max()) / share, 0.1)
    cures = [f"a battery of {wanted:.1f} Wh does it"]
    first = int(np.argmax(need > flight.usable_wh))
    if first:
        along = say.rounded_down(float(scene.track.ride.along_m[0, first - 1]), 1.0)
        cures.append(f"end the shot at {along:.0f} m along the ride")
    else:
        cures.append(f"launch nearer: way out and home alone take {float(need[0]):.1f} Wh")
    return "; or ".join(cures)


def _takes(scene: Scene, flight: energy.Flight) -> tuple[Remark, ...]:
    """Takes to a battery (never more than people fly on one), batteries for this shot."""
    each = flight.takes_per_battery
    if not each:
        return ()
    clock = timeline.Clock(scene.day)
    clock.shot(0, scene.shot.takes, flight.shot_s, flight)
    count = max(slot.battery for slot in clock.slots)
    between = scene.day.aircraft_between
    return (
        Remark(
            f"a take costs {flight.take_wh:.1f} Wh ({flight.out_wh:.1f} out, {flight.shot_wh:.1f} "
            f"shot, {flight.home_wh:.1f} home): {each} to a battery when it lands between them; "
            f"{scene.shot.takes} wanted, it {between} between takes: {count} "
            f"batter{'y' if count == 1 else 'ies'}; {energy.BEFORE_EACH}"
        ),
    )


def _cold(scene: Scene) -> tuple[Remark, ...]:
    temperature = scene.day.weather.temperature_c
    if temperature is None or temperature >= COLDEST_C:
        return ()
    return (
        Remark(
            f"{temperature:g} °C is colder than most batteries may be flown",
            caution=True,
            source=COLD_SOURCE,
            advice=f"wait for {COLDEST_C:.0f} °C or more, and keep batteries warm until take-off",
        ),
    )


def _light(scene: Scene, flight: energy.Flight) -> tuple[Remark, ...]:
    """The last take-off; a caution where takes would be in the air outside the light."""
    if scene.start is None:
        return ()
    light = timeline.light_of(scene.day, scene.rules, scene.site.frame)
    last = timeline.last_take_off(light, flight.shot_s, flight)
    if last is None or light.ends is None:
        return ()
    zone, takes = scene.day.timezone, scene.shot.takes
    until = (
        f"last take-off {last.astimezone(zone):%H:%M}: landed {timeline.SPARE_S / 60:.0f} min "
        f"before {light.why} at {light.ends.astimezone(zone):%H:%M}"
    )
    clock = timeline.Clock(scene.day, scene.start)
    clock.shot(0, takes, flight.shot_s, flight)
    within = [timeline.fits(s, light) for s in clock.slots if s.what == "take"]
    if all(within):
        return (Remark(until, source=_light_source(scene)),)
    late = clock.slots[-1].end - light.ends
    advice = (
        f"begin {math.ceil(late / timedelta(minutes=1))} min earlier, or fly {sum(within)} takes"
        if late > timedelta(0)
        else f"begin after {light.begins or light.ends:%H:%M}"
    )
    return (
        Remark(
            f"{sum(within)} of {takes} takes are flown within the light; {until}",
            caution=True,
            source=_light_source(scene),
            advice=advice,
        ),
    )


def _light_source(scene: Scene) -> str:
    return str(scene.rules.day.source) if scene.rules.day else ""


def _no_launch(scene: Scene) -> Words:
    full = scene.aircraft.battery_wh * (1.0 - scene.aircraft.reserve_fraction)
    return Words(
        "where it takes off, or the ground there, is not known, so neither the ways out and home",
        f"draw a place with id `launch` on known ground; go if way out, shot and way home then "
        f"take less than the {full:.1f} Wh a battery gives at most",
    )


def _no_weather(scene: Scene) -> Words:
    weather = scene.day.weather
    there = {
        "mean wind": weather.wind_m_s is not None,
        "wind's direction": weather.wind_m_s is None or weather.wind_from_rad is not None,
        "gust": weather.gust_m_s is not None,
        "temperature": weather.temperature_c is not None,
    }
    missing = [word for word, given in there.items() if not given]
    limit = _go_if(scene)
    advice = limit[0].text if limit else "go if one take then fits the battery"
    return Words(
        f"the {' and the '.join(missing)} are not known: they decide what the way home costs"
        if len(missing) > 1
        else f"the {missing[0]} is not known: it decides what a battery gives and the ways cost",
        f"give [weather]; {advice}",
        limit,
    )


def _go_if(scene: Scene) -> tuple[GoIf, ...]:
    """The greatest gust, whatever of the weather is missing: `given` says what else is taken, the
    direction as the worst for the way home; the least temperature, where that alone is missing."""
    weather = scene.day.weather
    blow = energy.air_of(scene)
    if blow is not None:
        return _warm_enough(scene, blow)
    given: list[tuple[str, float | str]] = []
    mean, from_rad, temperature = weather.wind_m_s, weather.wind_from_rad, weather.temperature_c
    if mean is None:
        mean = _easy_wind_m_s(scene)
        given.append(("weather.wind_m_s", mean))
    if from_rad is None:
        degrees = round(math.degrees(_against_home_rad(scene)) % 360.0, 2)
        from_rad = math.radians(degrees)
        given.append(("weather.wind_from_deg", degrees))
    if temperature is None:
        temperature = WARM_C
        given.append(("weather.temperature_c", temperature))

    def fits(gust_m_s: float) -> bool:
        air = energy.air(mean, gust_m_s, from_rad, temperature)
        return _enough(energy.flight_of(scene, air))

    if not fits(mean) or fits(STRONGEST_M_S):
        return ()
    gust = round(say.rounded_down(_last(fits, mean, STRONGEST_M_S), 0.01), 2)
    return (GoIf("weather.gust_m_s", "at-most", gust, "m/s", tuple(given)),)


def _warm_enough(scene: Scene, blow: energy.Air) -> tuple[GoIf, ...]:
    """The temperature alone is missing."""

    def fits(temperature_c: float) -> bool:
        return _enough(energy.flight_of(scene, blow._replace(temperature_c=temperature_c)))

    if not fits(WARM_C):
        return ()
    least = COLDEST_C if fits(COLDEST_C) else _last(fits, WARM_C, COLDEST_C)
    value = round(say.rounded_up(least, 0.01), 2)
    return (GoIf("weather.temperature_c", "at-least", value, "°C"),)


def _enough(flight: energy.Flight | None) -> bool:
    return flight is not None and float(flight.gusty_wh.max()) <= flight.usable_wh


def _last(fits: Callable[[float], bool], good: float, bad: float) -> float:
    """The last value that fits on the way from a good to a bad one, by halving."""
    while abs(bad - good) > 0.001:
        middle = 0.5 * (good + bad)
        good, bad = (middle, bad) if fits(middle) else (good, middle)
    return good


def _easy_wind_m_s(scene: Scene) -> float:
    """A mean wind in which it still flies the shot as wished."""
    moving = scene.track.setpoint_velocity_m_s[0]
    spare = scene.aircraft.max_speed_m_s - float(np.hypot(moving[:, 0], moving[:, 1]).max())
    return max(say.rounded_down(min(spare, 4.0)), 0.0)


def _against_home_rad(scene: Scene) -> float:
    """Where the wind would blow from to stand against the way home from the farthest sample."""
    launch = scene.site.launch
    if launch is None:
        return 0.0
    away = launch.xyz_m[:2] - scene.track.xyz_m[0, :, :2]
    return float(np.arctan2(*away[int(np.argmax(np.hypot(*away.T)))]))


CHECK = Check(
    id="battery",
    family="harm",
    group="aircraft",
    question="does the battery last?",
    unit="of the battery",
    shown="needs {value}",
    told=Told("the battery does not last", strays=""),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="never"),
    margins=margins,
    wind="gust",
    rides="first",
    pointwise=False,
    binds="at-most",
    needs=(needs.LAUNCH, needs.WIND, needs.WIND_FROM, needs.GUST, needs.TEMPERATURE),
)
