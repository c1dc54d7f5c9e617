"""KML recordings: `gx:Track`, else dated points, else lines (OGC 07-147r2 and Google's `gx`)."""

from __future__ import annotations

from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from shotplan.errors import Problems
from shotplan.files.fixes import NO_ZONE, Fixes, epoch_s, fixes_of, joined
from shotplan.files.xml_in import moment, number, xml_tree

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_Piece = tuple[list[str], list[str], bool]  # places, times as they are written, whether as high


def read_kml(path: Path, where: str, problems: Problems) -> Fixes | None:
    """The fixes of all tracks; where there are none, of placemarks with a point and a time; where
    there are none, of lines, dated at their ends where their placemark says a span of time.
    None where unreadable (problems say why)."""
    tree = xml_tree(path, "kml", "KML", where, problems)
    if tree is None:
        return None
    remarks: list[str] = []
    pieces = [_track(t) for t in tree.iter("Track")]
    if not pieces:
        dated = [p for p in tree.iter("Placemark") if p.find(".//Point/coordinates") is not None]
        points = [_dated(p) for p in dated if p.find("TimeStamp/when") is not None]
        if len(points) > 1:
            places, whens, high = zip(*points, strict=True)
            pieces = [(list(chain(*places)), list(chain(*whens)), all(high))]
    if not pieces:
        pieces = [_line(p, s) for p in tree.iter("Placemark") for s in p.iter("LineString")]
    if any(len(places) != len(times) for places, times, _ in pieces):
        problems.add(where, "holds a track with another number of times than places: export it "
                     "afresh")  # fmt: skip
        return None
    remarks += joined(len(pieces), "lines")
    times = [t for _, all_of, _ in pieces for t in all_of if t]
    if any((at := moment(t)) and not at.tzinfo for t in times):
        remarks.append(NO_ZONE)
    rows = [_row(k, c, t, high) for k, (cs, ts, high) in enumerate(pieces)
            for c, t in zip(cs, ts, strict=True)]  # fmt: skip
    unread = [t for t in times if moment(t) is None]
    of = "tracks and lines"
    return fixes_of(
        np.array(rows).reshape(-1, 5), _name(tree), remarks, where, problems, of=of, unread=unread
    )


def _name(tree: Element) -> str:
    return next((n.strip() for n in (p.text for p in tree.iter("name")) if n and n.strip()), "")


def _as_high(geometry: Element) -> bool:
    """Whether its heights are above the sea; as KML has it they are not read unless it says so."""
    return geometry.findtext("altitudeMode") == "absolute"


def _track(track: Element) -> _Piece:
    places = [",".join((c.text or "").split()) for c in track.findall("coord")]
    return places, [(w.text or "").strip() for w in track.findall("when")], _as_high(track)


def _dated(placemark: Element) -> _Piece:
    point = next(placemark.iter("Point"))
    when = (placemark.findtext("TimeStamp/when") or "").strip()
    return [(point.findtext("coordinates") or "").strip()], [when], _as_high(point)


def _line(placemark: Element, line: Element) -> _Piece:
    places = (line.findtext("coordinates") or "").split()
    times = [""] * len(places)
    if len(places) > 1:
        times[0] = (placemark.findtext("TimeSpan/begin") or "").strip()
        times[-1] = (placemark.findtext("TimeSpan/end") or "").strip()
    return places, times, _as_high(line)


def _row(segment: int, place: str, when: str, high: bool) -> tuple[float, ...]:
    lon, lat, *more = [*place.split(","), "", ""]
    elevation = number(more[0]) if high else float("nan")
    return number(lon), number(lat), elevation, epoch_s(moment(when)), float(segment)
