"""iCalendar (RFC 5545), written: events with moments in UTC.

UTC needs no time zone component, and every calendar shows it in the zone it is set to; the words
of an event may say local times. Nothing is read from a clock: the same events, the same bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import NamedTuple

from shotplan.files.placed import sound

FOLD = 75  # octets of a line, without its end (3.1)


class Event(NamedTuple):
    """`key` tells it from every other event, of this and other files: the same key replaces it
    when it is imported again. `end` None: a moment. `busy`: it takes the time of whoever has it in
    the calendar. `alarm_min` minutes before its start, 0 none."""

    key: str
    start: datetime
    end: datetime | None
    title: str
    words: str
    place: str = ""
    lonlat_deg: tuple[float, float] | None = None
    busy: bool = False
    alarm_min: int = 0


def write_calendar(events: Sequence[Event], *, maker: str, stamp: datetime) -> bytes:
    """The calendar; `stamp` is the moment all events say they are as of (DTSTAMP)."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{_escaped(maker)}", "CALSCALE:GREGORIAN"]
    for event in events:
        lines += _event(event, stamp)
    lines.append("END:VCALENDAR")
    return b"".join(piece + b"\r\n" for line in lines for piece in _folded(line))


def _event(event: Event, stamp: datetime) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{hashlib.sha256(event.key.encode('utf-8', 'replace')).hexdigest()[:32]}"
    yield f"DTSTAMP:{_moment(stamp)}"
    yield f"DTSTART:{_moment(event.start)}"
    if event.end is not None and _moment(event.end) > _moment(event.start):
        yield f"DTEND:{_moment(event.end)}"
    yield f"SUMMARY:{_escaped(event.title)}"
    yield f"DESCRIPTION:{_escaped(event.words)}"
    if event.place:
        yield f"LOCATION:{_escaped(event.place)}"
    if event.lonlat_deg is not None:
        lon, lat = event.lonlat_deg
        yield f"GEO:{lat:.6f};{lon:.6f}"  # latitude first (3.8.1.6)
    yield "STATUS:TENTATIVE"
    yield f"TRANSP:{'OPAQUE' if event.busy else 'TRANSPARENT'}"
    if event.alarm_min:
        yield from ("BEGIN:VALARM", "ACTION:DISPLAY", f"DESCRIPTION:{_escaped(event.title)}")
        yield from (f"TRIGGER:-PT{event.alarm_min}M", "END:VALARM")
    yield "END:VEVENT"


def _moment(at: datetime) -> str:
    """`20260620T191000Z`, whole seconds."""
    return f"{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def _escaped(text: str) -> str:
    """A TEXT value (3.3.11) on one line: nothing in it can begin another property."""
    for mark in ("\\", ";", ","):
        text = text.replace(mark, f"\\{mark}")
    return sound(text).replace("\n", "\\n")


def _folded(line: str) -> Iterable[bytes]:
    """The line in pieces of at most `FOLD` octets, each but the first led by a blank; no character
    is cut in two."""
    pieces, piece = [], b""
    for character in line:
        octets = character.encode("utf-8")
        if len(piece) + len(octets) > FOLD:
            pieces.append(piece)
            piece = b" "
        piece += octets
    return [*pieces, piece]
