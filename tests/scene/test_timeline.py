"""The day's timeline on flights of known length and cost."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Literal

import numpy as np
import pytest

from shotplan.model.day import Day
from shotplan.model.frame import Frame
from shotplan.model.rules import DayRule, Rules, Source
from shotplan.scene import timeline
from shotplan.scene.energy import Flight
from tests.output.made_plan import made_plan

START = datetime(2026, 6, 20, 12, tzinfo=UTC)


def flight(usable_wh: float = 10.0, out_s: float = 20.0, home_s: float = 30.0) -> Flight:
    """Out 0.5 Wh, shot 2 Wh in 60 s, home 1 Wh (1.5 Wh against the gust)."""
    return Flight(
        out_s=out_s, shot_s=60.0, home_s=home_s, out_wh=0.5, shot_wh=2.0, home_wh=1.0,
        need_wh=np.array([1.5, 3.5]), gusty_wh=np.array([2.0, 4.0]), wait_w=36.0,
        usable_wh=usable_wh,
    )  # fmt: skip


def day(between: Literal["lands", "waits"] = "lands", reset_s: float = 300.0) -> Day:
    return Day(start=START, timezone=UTC, aircraft_between=between, reset_s=reset_s)


def laid(clock: timeline.Clock, what: timeline.What = "take") -> list[timeline.Slot]:
    return [s for s in clock.slots if s.what == what]


def seconds(slot: timeline.Slot) -> tuple[float, float]:
    return (slot.start - START).total_seconds(), (slot.end - START).total_seconds()


def test_takes_follow_each_other_by_the_reset() -> None:
    clock = timeline.Clock(day())
    assert clock.shot(0, 2, 60.0, flight()) == START
    # First metre at 0 s: off at -20 s, down at 60 + 30 s; the next one 60 + 300 s later.
    assert [seconds(s) for s in laid(clock)] == [(-20.0, 90.0), (340.0, 450.0)]
    assert [seconds(s) for s in laid(clock, "reset")] == [(90.0, 340.0)]
    assert clock.shot(1, 1, 60.0, flight()) == START + timedelta(seconds=720)


def test_a_short_reset_waits_for_the_aircraft() -> None:
    clock = timeline.Clock(day(reset_s=10.0))
    clock.shot(0, 2, 60.0, flight())
    assert [seconds(s)[0] for s in laid(clock)] == [-20.0, 90.0]


def test_a_battery_flies_five_times_at_most() -> None:
    clock = timeline.Clock(day())
    clock.shot(0, 7, 60.0, flight(1000.0))
    assert [s.battery for s in laid(clock)] == [1, 1, 1, 1, 1, 2, 2]
    assert flight(1000.0).takes_per_battery == 5


@pytest.mark.parametrize(
    ("usable", "batteries", "each"),
    # A take uses 3.5 Wh and needs 4.0 Wh to begin.
    [(3.9, [1, 2, 3], 0), (4.0, [1, 2, 3], 1), (7.5, [1, 1, 2], 2), (11.0, [1, 1, 1], 3)],
)
def test_batteries_are_changed_when_they_do_not_give_another_take(
    usable: float, batteries: list[int], each: int
) -> None:
    clock = timeline.Clock(day())
    clock.shot(0, 3, 60.0, flight(usable))
    assert [s.battery for s in laid(clock)] == batteries
    assert flight(usable).takes_per_battery == each
    changes = laid(clock, "battery change")
    assert len(changes) == batteries[-1] - 1
    for slot in changes:
        assert slot.end - slot.start == timedelta(seconds=timeline.CHANGE_S)
        assert any(take.start == slot.end for take in laid(clock))


def test_it_waits_in_the_air_as_long_as_the_battery_gives_that() -> None:
    # A wait of 300 s at 36 W is 3 Wh; then shot and the gusty way home take 3.5 Wh.
    clock = timeline.Clock(day("waits"))
    clock.shot(0, 2, 60.0, flight(0.5 + 2.0 + 3.0 + 3.5))
    assert [seconds(s) for s in laid(clock)] == [(-20.0, 60.0), (360.0, 450.0)]
    assert [seconds(s) for s in laid(clock, "wait")] == [(60.0, 360.0)]
    short = timeline.Clock(day("waits"))
    short.shot(0, 2, 60.0, flight(0.5 + 2.0 + 3.0 + 3.4))
    assert not laid(short, "wait")
    assert [s.battery for s in laid(short)] == [1, 1]  # 5.4 Wh are left, enough for a take


@pytest.mark.parametrize("home_s", [30.0, np.inf])
def test_a_battery_that_is_not_known_is_not_counted(home_s: float) -> None:
    clock = timeline.Clock(day())
    clock.shot(0, 2, 60.0, flight(np.nan, home_s=home_s))
    assert [s.battery for s in laid(clock)] == [0, 0]
    assert not laid(clock, "battery change")
    # A way that never ends counts no time: there is no such flight.
    wanted = 60.0 + (home_s if np.isfinite(home_s) else 0.0)
    assert seconds(laid(clock)[0]) == (-20.0, wanted)


def test_a_launch_that_is_not_known_counts_no_ways() -> None:
    clock = timeline.Clock(day())
    clock.shot(0, 1, 60.0, None)
    assert clock.slots == [timeline.Slot("take", 0, 1, START, START + timedelta(seconds=60), 0)]


def with_day(
    night: Literal["any", "light", "no"], twilight: Literal["any", "light", "no"], fixed: bool
) -> Rules:
    source = Source(document="made up", clause="1", read_on="2026-11-25", known="read")
    rule = DayRule(
        night=night, twilight=twilight,
        twilight_is="fixed-30-min" if fixed else "sun-6-deg", source=source,
    )  # fmt: skip
    return replace(made_plan().outing.rules, day=rule)


BEIJING = Frame(lon_deg=116.383, lat_deg=39.917)
EAST = timezone(timedelta(hours=8))


@pytest.mark.parametrize(
    ("rules", "hour", "minute"),
    # Naval Observatory, 39.917 N 116.383 E, 2015-08-02: sunset 19:28 (reference/physics.md SUN-6).
    [
        (with_day("no", "no", False), 19, 28),
        (with_day("light", "light", True), 19, 28),
        (with_day("no", "any", True), 19, 58),
    ],
)
def test_the_light_ends_as_the_pack_says(rules: Rules, hour: int, minute: int) -> None:
    on = Day(start=datetime(2015, 8, 2, 15, tzinfo=EAST), timezone=EAST)
    light = timeline.light_of(on, rules, BEIJING)
    assert light.ends is not None
    wanted = datetime(2015, 8, 2, hour, minute, tzinfo=EAST)
    assert abs(light.ends - wanted) <= timedelta(minutes=1)
    last = timeline.last_take_off(light, 60.0, flight())
    assert last == light.ends - timedelta(seconds=20 + 60 + 30 + timeline.SPARE_S)


def test_the_sun_at_six_degrees_is_later_than_sunset_and_not_the_fixed_half_hour() -> None:
    on = Day(start=datetime(2015, 8, 2, 15, tzinfo=EAST), timezone=EAST)
    sunset, civil = (
        timeline.light_of(on, with_day("no", t, False), BEIJING).ends for t in ("no", "any")
    )
    assert sunset is not None
    assert civil is not None
    assert timedelta(minutes=20) < civil - sunset < timedelta(minutes=40)
    # A pack without any end of the light: civil twilight is an own choice, and says so.
    free = timeline.light_of(on, with_day("any", "any", False), BEIJING)
    assert free.ends == civil
    assert "own choice" in free.why


def test_a_day_without_sun_has_no_light_and_one_without_night_no_end() -> None:
    arctic = Frame(lon_deg=20.0, lat_deg=78.0)
    rules = with_day("no", "no", False)
    winter = Day(start=datetime(2026, 12, 20, 12, tzinfo=UTC), timezone=UTC)
    light = timeline.light_of(winter, rules, arctic)
    assert light.begins == light.ends
    slot = timeline.Slot("take", 0, 1, winter.start, winter.start + timedelta(minutes=2), 1)
    assert not timeline.fits(slot, light)
    summer = Day(start=datetime(2026, 6, 20, 12, tzinfo=UTC), timezone=UTC)
    light = timeline.light_of(summer, rules, arctic)
    assert (light.begins, light.ends) == (None, None)
    assert timeline.last_take_off(light, 60.0, None) is None
    assert timeline.fits(slot, light)


def test_the_day_is_in_order() -> None:
    clock = timeline.Clock(day())
    light = timeline.Light(None, START + timedelta(hours=1), "sunset")
    for index in range(2):
        clock.shot(index, 2, 60.0, flight())
        clock.note_last_take_off(index, timeline.last_take_off(light, 60.0, flight()))
    slots = clock.day(light)
    assert [s.start for s in slots] == sorted(s.start for s in slots)
    assert slots[-1].what == "light ends"
    assert [s.shot for s in slots if s.what == "last take-off"] == [0, 1]
