"""TCX recordings (Training Center XML): the track points of activities, else of courses."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from shotplan.errors import Problems
from shotplan.files.fixes import NO_ZONE, Fixes, epoch_s, fixes_of, joined
from shotplan.files.xml_in import moment, number, xml_tree

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

ROOT = "TrainingCenterDatabase"


def read_tcx(path: Path, where: str, problems: Problems) -> Fixes | None:
    """The track points that have a position; None where unreadable (problems say why)."""
    tree = xml_tree(path, ROOT, "TCX", where, problems)
    if tree is None:
        return None
    remarks: list[str] = []
    tracks = tree.findall("./Activities//Track")
    if not tracks:
        tracks = tree.findall("./Courses//Track")
        remarks += ["it holds a course, not a recorded track"] if tracks else []
    tracks = [track for track in tracks if track.find("./Trackpoint/Position") is not None]
    remarks += joined(len(tracks), "track segments")
    points = [(k, p) for k, track in enumerate(tracks) for p in track.findall("Trackpoint")]
    placed = [(k, p) for k, p in points if p.find("Position") is not None]
    times = [p.findtext("Time") for _, p in placed]
    if any(t and (at := moment(t)) and not at.tzinfo for t in times):
        remarks.append(NO_ZONE)
    rows = (_row(k, point) for k, point in placed)
    unread = [t for t in times if t and moment(t) is None]
    of = "tracks"
    return fixes_of(rows, "", remarks, where, problems, of=of, unread=unread)


def _row(segment: int, point: Element) -> tuple[float, float, float, float, float]:
    return (
        number(point.findtext("Position/LongitudeDegrees")),
        number(point.findtext("Position/LatitudeDegrees")),
        number(point.findtext("AltitudeMeters")),
        epoch_s(moment(point.findtext("Time"))),
        float(segment),
    )
