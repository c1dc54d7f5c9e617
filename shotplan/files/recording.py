"""A recording of a ride, whatever wrote it: the one place that knows which reader reads what."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from shotplan.errors import Problems
from shotplan.files.csv_in import read_csv
from shotplan.files.fit import MARK, MARK_AT, read_fit
from shotplan.files.fixes import Fixes
from shotplan.files.gpx import read_gpx
from shotplan.files.igc import read_igc
from shotplan.files.kml_in import read_kml
from shotplan.files.tcx import read_tcx

_Reader = Callable[[Path, str, Problems], Fixes | None]
READERS: Mapping[str, _Reader] = {
    ".gpx": read_gpx,
    ".fit": read_fit,
    ".tcx": read_tcx,
    ".igc": read_igc,
    ".kml": read_kml,
    ".csv": read_csv,
}
WANTED = ", ".join(READERS)
_MARKS = (  # what a file of a kind holds within its first bytes
    (b"<gpx", ".gpx"), (b":gpx", ".gpx"), (b"<TrainingCenterDatabase", ".tcx"), (b"<kml", ".kml"),
    (b"PK\x03\x04", ".zip"),
)  # fmt: skip
_LOOKED_AT = 2000


def read_recording(path: Path, where: str, problems: Problems) -> Fixes | None:
    """The fixes of a recording; None where unreadable (problems say why). The name's ending says
    which format it is; a file that holds another one is refused and both are said."""
    suffix = path.suffix.lower()
    if suffix not in READERS:
        more = ": unpack it, the .kml is inside" if suffix == ".kmz" else ""
        problems.add(where, f"ends in {suffix or 'nothing'}; wanted a recording: {WANTED}{more}")
        return None
    held = _held(path)
    if held and held != suffix:
        problems.add(where, f"is named {suffix} and holds {held[1:].upper()}: give it its own name")
        return None
    return READERS[suffix](path, where, problems)


def _held(path: Path) -> str:
    """The ending a file's first bytes ask for; "" where they do not tell."""
    try:
        with path.open("rb") as file:
            begin = file.read(_LOOKED_AT)
    except (OSError, ValueError):
        return ""  # the reader says why
    if begin[MARK_AT : MARK_AT + len(MARK)] == MARK:
        return ".fit"
    return next((suffix for mark, suffix in _MARKS if mark in begin), "")
