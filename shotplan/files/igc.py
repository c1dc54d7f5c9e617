"""IGC recordings (FAI, Technical Specification for GNSS Flight Recorders, appendix A)."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

from shotplan.errors import Problems
from shotplan.files.disk import MEGABYTE, read_bytes
from shotplan.files.fixes import Fixes, epoch_s, fixes_of

LARGEST = 20 * MEGABYTE
DAY_S = 86_400.0
BACK_S = DAY_S / 2.0  # a clock that falls back by more has passed midnight
# B: time, latitude, longitude, A (3D) or V, elevation by pressure, by satellites
_FIX = re.compile(
    r"B(\d\d)(\d\d)(\d\d)(\d\d)(\d{5})([NS])(\d{3})(\d{5})([EW])([AV])([-\d]\d{4})([-\d]\d{4})"
)
_DATE = re.compile(r"HFDTE(?:DATE:)?\s*(\d\d)(\d\d)(\d\d)")


def read_igc(path: Path, where: str, problems: Problems) -> Fixes | None:
    """The B records; None where unreadable (problems say why).

    Elevations are those by satellites, above the ellipsoid, of fixes marked A (a fix marked V has
    none); without any, those by pressure.
    """
    data = read_bytes(path, LARGEST, where, problems)
    if data is None:
        return None
    text = data.decode("ascii", errors="replace")
    if not re.match(r"\s*[\ufffd]*A\w", text):
        problems.add(where, "is not IGC: wanted a first line that begins with A, the recorder")
        return None
    fixes = [m.groups() for line in text.splitlines() if (m := _FIX.match(line))]
    bad = sum(line.startswith("B") for line in text.splitlines()) - len(fixes)
    remarks = [f"{bad} of its fixes cannot be read and are left out"] if bad else []
    times = _times(text, [(int(h), int(m), int(s)) for h, m, s, *_ in fixes], remarks)
    by_satellites = any(_metres(f[11]) for f in fixes)
    which = 11 if by_satellites else 10
    rows = [
        (
            _degrees(f[6], f[7], f[8]),
            _degrees(f[3], f[4], f[5]),
            _metres(f[which]) if f[9] == "A" or not by_satellites else float("nan"),
            time_s,
            0.0,
        )
        for f, time_s in zip(fixes, times, strict=True)
    ]
    return fixes_of(rows, "", remarks, where, problems, of="B records")


def _metres(written: str) -> float:
    return float(int(written)) if written[1:].isdigit() else float("nan")


def _degrees(whole: str, thousandths: str, way: str) -> float:
    """Degrees and minutes in thousandths."""
    found = int(whole) + int(thousandths) / 60_000.0
    return -found if way in "SW" else found


def _times(text: str, clocks: list[tuple[int, int, int]], remarks: list[str]) -> list[float]:
    """Seconds since 1970; a day more where the clock passes midnight; NaN without a date."""
    said = _DATE.search(text)
    try:
        day, month, year = (int(v) for v in said.groups()) if said else (0, 0, 0)
        # two digits, as the format has them: it is younger than 1980
        midnight = epoch_s(datetime(year + (1900 if year >= 80 else 2000), month, day, tzinfo=UTC))
    except ValueError:
        remarks.append("it says no date (HFDTE): its times count as missing")
        midnight = float("nan")
    found, last = [], 0.0
    for hour, minute, second in clocks:
        clock_s = 3600.0 * hour + 60.0 * minute + second
        midnight += DAY_S if last - clock_s > BACK_S else 0.0
        found.append(midnight + clock_s)
        last = clock_s
    return found
