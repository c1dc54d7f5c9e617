"""What a calendar is shown of a plan: each shot's window, its last take-off, the light."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from shotplan.files.calendar import Event
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.output import answer
from shotplan.output.take_along import pieces
from shotplan.output.words import ShotWords, made, plain
from shotplan.scene import timeline

REMIND_MIN = 15  # before the last take-off: own choice


def events(plan: Plan) -> tuple[Event, ...]:
    """In the order they begin."""
    told = answer.answer(plan)
    found = [
        *(_window(plan, i, shot, told.shots[i]) for i, shot in enumerate(plan.shots)),
        *_last(plan, told.shots),
        *_light(plan),
    ]
    return tuple(sorted(found, key=lambda event: event.start))


def _window(plan: Plan, index: int, shot: ShotPlan, told: ShotWords) -> Event:
    """From the first take-off to the last landing of a shot; of a plan without a timeline, from
    its first sample to its last."""
    takes = [s for s in plan.timeline if s.what == "take" and s.shot == index]
    start = takes[0].start if takes else shot.scene.moments[0]
    end = takes[-1].end if takes else shot.scene.moments[-1]
    lines = [
        f"{pieces.verdict(shot.verdict)}: {told.why or 'every check is go'}",
        told.style,
        told.part,
        f"{len(takes)} take{'s' * (len(takes) != 1)}" if takes else "",
        *told.calls,
        *(f"{r.title}: {r.distance}. {r.reason}. {r.advice}".rstrip() for r in told.deciding),
        f"Change: {told.change}" if told.change else "",
        _zone(plan),
    ]
    title = f"{told.letter} {shot.verdict.word}: {told.name}"
    busy = shot.verdict != Verdict.NO_GO
    return _event(plan, f"window {index}", start, end, title, lines, busy=busy)


def _last(plan: Plan, told: tuple[ShotWords, ...]) -> Iterator[Event]:
    """One for the day, at the earliest of all: whoever keeps to it keeps to every shot's own."""
    latest = answer.last_take_offs(plan)
    if not latest:
        return
    first = min(latest.values())
    lines = [
        f"After {say.clock(first)} do not take off: a take would not be landed "
        f"{timeline.SPARE_S / 60.0:.0f} min before the light ends.",
        *_later(latest, first, told),
        pieces.COMPUTED,
        _zone(plan),
    ]
    title = f"last take-off {say.clock(first)}"
    yield _event(plan, "last take-off", first, None, title, lines, alarm_min=REMIND_MIN)


def _later(
    latest: dict[int, datetime], first: datetime, told: tuple[ShotWords, ...]
) -> Iterator[str]:
    """The shots that may take off later than the first, where a minute can be read between."""
    for index, at in sorted(latest.items()):
        if say.clock(at) != say.clock(first):
            yield f"{told[index].letter} ({told[index].name}) alone: until {say.clock(at)}."


def _light(plan: Plan) -> Iterator[Event]:
    """When there is light to fly in, with the day's lines; none on a day without both ends."""
    outing = plan.outing
    light = timeline.light_of(outing.day, outing.rules, outing.site.frame)
    if light.begins is None or light.ends is None or light.ends <= light.begins:
        return
    lines = [f"ends at {light.why}; {pieces.COMPUTED}", *answer.day(plan), _zone(plan)]
    yield _event(plan, "light", light.begins, light.ends, "light to fly in", lines)


def _event(
    plan: Plan,
    key: str,
    start: datetime,
    end: datetime | None,
    title: str,
    lines: list[str],
    *,
    busy: bool = False,
    alarm_min: int = 0,
) -> Event:
    """Keyed by site, day and which of its events it is: a later plan of that day replaces it."""
    site, day = plan.outing.site, plan.outing.day
    date = day.start.astimezone(day.timezone).date()
    frame, launch = site.frame, site.launch
    lon, lat = frame.lonlat_deg(launch.xyz_m[:2]) if launch else (frame.lon_deg, frame.lat_deg)
    return Event(
        key=f"shotplan\n{site.name}\n{date}\n{key}",
        start=start,
        end=end,
        title=title,
        words="\n".join(line for line in lines if line),
        place=plain(site.name),
        lonlat_deg=(float(lon), float(lat)),
        busy=busy,
        alarm_min=alarm_min,
    )


def _zone(plan: Plan) -> str:
    zone = plain(str(plan.outing.day.timezone))
    return f"times in these words are local: {zone}\n{made(plan.outing)}"
