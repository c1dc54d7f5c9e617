"""FIT recordings, as many bicycle computers and watches write them."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shotplan.errors import Problems
from shotplan.files.disk import MEGABYTE, read_bytes
from shotplan.files.fixes import Fixes, epoch_s, fixes_of, joined
from shotplan.files.words import one_line

if TYPE_CHECKING:
    from fitdecode import FitDataMessage

LARGEST = 10 * MEGABYTE  # about 70 hours, a fix a second
DEGREES = 180.0 / 2**31  # one semicircle, FIT's unit of position
MARK, MARK_AT = b".FIT", 8


def read_fit(path: Path, where: str, problems: Problems) -> Fixes | None:
    """The records that have a position; None where unreadable (problems say why).

    Elevations are the file's, by barometer or receiver. The sums of the file are checked: a file
    that was cut or turned about is refused.
    """
    data = read_bytes(path, LARGEST, where, problems)
    if data is None:
        return None
    if data[MARK_AT : MARK_AT + len(MARK)] != MARK:
        problems.add(where, "is not FIT: bytes 8 to 12 are not .FIT")
        return None
    try:
        rows, segments = _rows(_messages(data))
    except Exception as error:  # a parser of hostile bytes: whatever it raises, it is refused
        problems.add(
            where,
            f"is broken or cut short: {one_line(str(error)) or type(error).__name__}; copy it "
            "from the device again",
        )
        return None
    of = "records with a position"
    return fixes_of(rows, "", joined(segments, "track segments"), where, problems, of=of)


def _messages(data: bytes) -> Iterable[FitDataMessage]:
    """All data messages; raises what the library raises, also for a wrong sum."""
    import fitdecode

    with warnings.catch_warnings(), fitdecode.FitReader(
        io.BytesIO(data),
        check_crc=fitdecode.CrcCheck.RAISE,
        error_handling=fitdecode.ErrorHandling.RAISE,
    ) as reader:  # fmt: skip
        warnings.simplefilter("ignore")
        for frame in reader:
            if isinstance(frame, fitdecode.FitDataMessage):
                yield frame


def _rows(messages: Iterable[FitDataMessage]) -> tuple[list[Any], int]:
    """Fixes as `fixes_of` takes them, and how many segments."""
    rows: list[Any] = []
    segment, paused = 0, False
    for message in messages:
        if message.name == "event" and _said(message, "event") == "timer":
            paused = bool(rows)
        if message.name != "record":
            continue
        lon, lat = _said(message, "position_long"), _said(message, "position_lat")
        if lon is None or lat is None:
            continue
        segment, paused = segment + paused, False
        elevation = _said(message, "enhanced_altitude")
        at = _said(message, "timestamp")
        rows.append((
            lon * DEGREES,
            lat * DEGREES,
            float("nan") if elevation is None else float(elevation),
            epoch_s(at if isinstance(at, datetime) else None),
            float(segment),
        ))  # fmt: skip
    return rows, segment + 1


def _said(message: FitDataMessage, name: str) -> Any:
    return message.get_value(name, fallback=None)
