from __future__ import annotations

import datetime as dt
from typing import Any

import icalendar
from hypothesis import example, given
from hypothesis import strategies as st

from shotplan.files.calendar import FOLD, Event, write_calendar
from shotplan.files.placed import sound

ZONE = dt.timezone(dt.timedelta(hours=1))
START = dt.datetime(2026, 6, 20, 20, 10, 0, 900_000, tzinfo=ZONE)
END = START + dt.timedelta(minutes=7)
EVIL = "a\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:other;X=1:\\n,\nATTACH:http://x\u2028\x85UID:1"


def event(**other: Any) -> Event:
    return Event(**{"key": "k", "start": START, "end": END, "title": "A", "words": "w", **other})


def read(*events: Event) -> list[Any]:
    data = write_calendar(events, maker="maker 1", stamp=START)
    return list(icalendar.Calendar.from_ical(data).walk("VEVENT"))


def test_an_independent_reader_gets_the_same_numbers() -> None:
    (found,) = read(event(words="one\ntwo; three, \\four", place="Scarp", busy=True,
                          lonlat_deg=(-8.123456, 54.25), alarm_min=15))  # fmt: skip
    assert found.decoded("DTSTART") == START.replace(microsecond=0)
    assert found.decoded("DTEND") == END.replace(microsecond=0)
    assert found.decoded("DTSTART").utcoffset() == dt.timedelta(0)
    assert (found["DESCRIPTION"], found["LOCATION"]) == ("one\ntwo; three, \\four", "Scarp")
    assert found["GEO"].to_ical() == "54.25;-8.123456"  # RFC 5545, 3.8.1.6: latitude first
    assert (found["TRANSP"], found["STATUS"]) == ("OPAQUE", "TENTATIVE")
    (alarm,) = found.walk("VALARM")
    assert alarm.decoded("TRIGGER") == -dt.timedelta(minutes=15)
    assert found.errors == alarm.errors == []


def test_what_every_calendar_and_event_must_have() -> None:
    data = write_calendar([event()], maker="maker 1", stamp=START)
    calendar = icalendar.Calendar.from_ical(data)
    # RFC 5545, 3.6 and 3.6.1
    assert (calendar["VERSION"], calendar["PRODID"]) == ("2.0", "maker 1")
    (found,) = calendar.walk("VEVENT")
    assert {"UID", "DTSTAMP", "DTSTART"} <= set(found)
    assert data.startswith(b"BEGIN:VCALENDAR\r\n")
    assert data.endswith(b"END:VCALENDAR\r\n")


def test_a_moment_has_no_end() -> None:
    assert "DTEND" not in read(event(end=None))[0]
    assert "DTEND" not in read(event(end=START))[0]  # it must be later (3.8.2.2)


def test_ids_follow_the_key_alone() -> None:
    same, again, other = read(event(), event(title="B", end=None), event(key="l"))
    assert same["UID"] == again["UID"] != other["UID"]


def test_text_cannot_begin_another_property() -> None:
    found = read(event(title=EVIL, words=EVIL, place=EVIL, key=EVIL, alarm_min=5))
    assert len(found) == 1
    assert "ATTACH" not in found[0]
    told = sound(EVIL)
    assert found[0]["SUMMARY"] == found[0]["DESCRIPTION"] == found[0]["LOCATION"] == told


@given(st.text(st.characters(codec=None), max_size=300))
@example("x" * 300)
@example("ø" * 200)
@example("🐑" * 100)
def test_lines_are_folded_between_characters_and_read_back(text: str) -> None:
    data = write_calendar([event(title=text, words=f"ø{text}")], maker="m", stamp=START)
    lines = data.split(b"\r\n")
    assert all(len(line) <= FOLD for line in lines)
    assert all(line.decode("utf-8") for line in lines[:-1])  # no character is cut in two
    unfolded = data.replace(b"\r\n ", b"").decode("utf-8").split("\r\n")
    assert [line[:8] for line in unfolded if line.startswith("BEGIN")] == ["BEGIN:VC", "BEGIN:VE"]
    (found,) = icalendar.Calendar.from_ical(data).walk("VEVENT")
    assert found["DESCRIPTION"] == f"ø{sound(text)}"
