"""The day as it runs: takes, resets, battery changes, the end of the light, the last take-off."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import Literal, NamedTuple

from shotplan.model.day import Day
from shotplan.model.frame import Frame
from shotplan.model.rules import Rules
from shotplan.scene import sun
from shotplan.scene.energy import J_PER_WH, MOST_TAKES, Flight

CHANGE_S = 60.0  # to change a battery: common practice
SPARE_S = 300.0  # landed this long before the light ends: own choice
TWILIGHT = timedelta(minutes=30)

What = Literal["take", "reset", "wait", "battery change", "last take-off", "light ends"]


class Slot(NamedTuple):
    """A span of the day. `shot` its index (-1 none), `take` from 1 (0 none), `battery` from 1
    (0 not known, or none). A take lasts from take-off to landing; where the aircraft waits in the
    air, from or to that wait."""

    what: What
    shot: int
    take: int
    start: datetime
    end: datetime
    battery: int


class Clock:
    """Lays shots one after the other on the timeline, in `slots`.

    The first metre of the first shot is ridden at the day's start. Between takes the rider needs
    `day.reset_s`; meanwhile the aircraft flies home, gets a new battery where the old one would
    not give another take, and flies out again; or it waits in the air where the battery gives
    that. Between shots it lands. A flight that is not known counts no ways and no batteries.
    """

    def __init__(self, day: Day, start: datetime | None = None) -> None:
        """`start` of the first sample, where it is not the day's."""
        self.slots: list[Slot] = []
        self._latest: list[Slot] = []
        self._day = day
        self._ready = start or day.start  # the rider is at the first metre again
        self._battery, self._left_wh = 0, 0.0
        self._flights = 0  # on this battery

    def shot(self, index: int, takes: int, shot_s: float, flight: Flight | None) -> datetime:
        """Lay all takes of a shot; the moment of the first sample of its first take."""
        starts, aloft = [], False
        out_s, home_s = _ways(flight)
        for take in range(1, takes + 1):
            changes = not aloft and self._changes(flight)
            start = self._start(out_s, changes, aloft)
            took_off = start if aloft else start - timedelta(seconds=out_s)
            self._pause(index, take, took_off, changes, aloft)
            aloft = self._uses(flight, aloft, take < takes)
            end = start + timedelta(seconds=shot_s)
            landed = end if aloft else end + timedelta(seconds=home_s)
            self.slots.append(Slot("take", index, take, took_off, landed, self._battery))
            self._ready = end + timedelta(seconds=self._day.reset_s)
            starts.append(start)
        return starts[0]

    def note_last_take_off(self, index: int, at: datetime | None) -> None:
        """Remember when a shot must take off at the latest."""
        if at is not None:
            self._latest.append(Slot("last take-off", index, 0, at, at, 0))

    def day(self, light: Light) -> tuple[Slot, ...]:
        """Everything in the order in which it begins."""
        ends = light.ends
        last = [] if ends is None else [Slot("light ends", -1, 0, ends, ends, 0)]
        return tuple(sorted([*self.slots, *self._latest, *last], key=lambda s: s.start))

    def _changes(self, flight: Flight | None) -> bool:
        """Put in a full battery where the present one does not give a take; whether that takes
        the crew's time (the first one is in already)."""
        if flight is None or math.isnan(flight.usable_wh):
            return False
        self._flights += 1
        if self._left_wh >= flight.full_wh and self._flights <= MOST_TAKES:
            return False
        self._battery, self._left_wh, self._flights = self._battery + 1, flight.usable_wh, 1
        return self._battery > 1

    def _start(self, out_s: float, changes: bool, aloft: bool) -> datetime:
        if aloft or not self.slots:
            return self._ready
        ground_s = out_s + (CHANGE_S if changes else 0.0)
        return max(self._ready, self.slots[-1].end + timedelta(seconds=ground_s))

    def _pause(self, index: int, take: int, until: datetime, changes: bool, aloft: bool) -> None:
        """Fill the time since the last take."""
        if not self.slots:
            return
        since = self.slots[-1].end
        change = until - timedelta(seconds=CHANGE_S) if changes else until
        if change > since:
            what: What = "wait" if aloft else "reset"
            self.slots.append(Slot(what, index, take, since, change, 0))
        if changes:
            self.slots.append(Slot("battery change", index, take, change, until, self._battery))

    def _uses(self, flight: Flight | None, aloft: bool, more: bool) -> bool:
        """Take a take off the battery; whether the aircraft then waits in the air for the next."""
        stays = more and self._day.aircraft_between == "waits"
        if flight is None or math.isnan(flight.usable_wh):
            return stays
        self._left_wh -= flight.shot_wh + (0.0 if aloft else flight.out_wh)
        wait_wh = flight.wait_w * self._day.reset_s / J_PER_WH
        again_wh = wait_wh + flight.full_wh - flight.out_wh
        stays = stays and self._left_wh >= again_wh
        self._left_wh -= wait_wh if stays else flight.home_wh
        return stays


def _ways(flight: Flight | None) -> tuple[float, float]:
    """Seconds out and home; ways that are not known or never end count nothing."""
    if flight is None:
        return 0.0, 0.0
    out, home = (s if math.isfinite(s) else 0.0 for s in (flight.out_s, flight.home_s))
    return out, home


class Light(NamedTuple):
    """When flying may begin and must end on a day (None: no such moment), and what that is."""

    begins: datetime | None
    ends: datetime | None
    why: str


def light_of(day: Day, rules: Rules, frame: Frame) -> Light:
    """The pack's light on the day's date. Where it asks for a light on the aircraft, or says
    nothing, the light ends before that: whether one is fitted is not known. On a day on which the
    sun does not come up that far it begins and ends at noon."""
    rule = rules.day
    fixed = rule is not None and rule.night != "any" and rule.twilight_is == "fixed-30-min"
    to_sunset = rule is None or (rule.night != "any" and rule.twilight != "any")
    date = day.start.astimezone(day.timezone).date()
    moments = sun.day(date, day.timezone, frame.lon_deg, frame.lat_deg)
    by_sunset = to_sunset or fixed
    least_deg = sun.RISE_DEG if by_sunset else sun.CIVIL_DEG
    _, noon_rad = sun.position([moments.noon], frame.lon_deg, frame.lat_deg)
    why = "sunset" if to_sunset else f"{'30 minutes after sunset' if fixed else 'the sun at -6°'}"
    if rule is None or rule.night == "any":
        why += " (own choice: the pack sets no end)"
    if math.degrees(float(noon_rad[0])) < least_deg:
        return Light(moments.noon, moments.noon, f"{why}, and the sun does not come up")
    begins, ends = (moments.sunrise, moments.sunset) if by_sunset else (moments.dawn, moments.dusk)
    more = TWILIGHT if fixed and not to_sunset else timedelta(0)
    return Light(
        None if begins is None else begins - more, None if ends is None else ends + more, why
    )


def last_take_off(light: Light, shot_s: float, flight: Flight | None) -> datetime | None:
    """When a take must take off to be landed `SPARE_S` before the light ends; None without end."""
    if light.ends is None:
        return None
    return light.ends - timedelta(seconds=sum(_ways(flight)) + shot_s + SPARE_S)


def fits(slot: Slot, light: Light) -> bool:
    """Whether a slot lies within the light."""
    early = light.begins is not None and slot.start < light.begins
    late = light.ends is not None and slot.end > light.ends
    return not (early or late)
