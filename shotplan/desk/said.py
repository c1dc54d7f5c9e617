"""What the page is told of a judged shot and of the place, as JSON can hold it."""

from __future__ import annotations

from typing import Any

import numpy as np

from shotplan.judging.judged import ShotPlan
from shotplan.kernels.rides import runs
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing
from shotplan.output import first
from shotplan.output.map.shapes import simplified
from shotplan.output.screen import reasons
from shotplan.output.words import plain, ranked

OFF_M = 0.15  # a line is drawn to so much
EVERY_M = 2.0  # the ride, so that a metre of it is found on the map


def word(outing: Outing, shot: ShotPlan) -> dict[str, Any]:
    """The word, what decides it, the flight coloured, the places worth a look."""
    frame, track = outing.site.frame, shot.scene.track
    path = track.xyz_m[0, :, :2]
    same = [(Verdict(int(shot.sample_verdict[low])), low, high)
            for low, high in runs.runs(shot.sample_verdict)]  # fmt: skip
    return {
        "word": shot.verdict.word,
        "rides": shot.rides,
        "reasons": [plain(text) for text in reasons(shot)],
        "good": first.good_part(shot),
        "flies": [
            {"word": v.word, "line": line(frame, simplified(path[lo : hi + 1], OFF_M))}
            for v, lo, hi in same
        ],
        "stretches": [
            {"from_m": s.from_m, "to_m": s.to_m, "word": s.verdict.word} for s in shot.stretches
        ],
        "things": _things(shot),
        "marks": _marks(frame, shot),
    }


def _things(shot: ShotPlan) -> list[str]:
    """Ids of what is not go, the worst first."""
    found = [f.told.thing for f in ranked(shot) if f.verdict > Verdict.GO and f.told.thing]
    return list(dict.fromkeys(found))


def _marks(frame: Frame, shot: ShotPlan) -> list[dict[str, Any]]:
    """Where the two worst findings are."""
    found = []
    for one in ranked(shot):
        at = one.told.at
        if one.verdict > Verdict.GO and at is not None and np.isfinite(at.xyz_m[:2]).all():
            spot = line(frame, np.array([at.xyz_m[:2]]))[0]
            found.append({"word": one.verdict.word, "at": spot})
    return found[:2]


def mended(shot: ShotPlan) -> dict[str, Any]:
    """The changes that work, each with its keys, word and sentence; or what is in the way."""
    if shot.mended is None:
        return {"changes": [], "in_the_way": ""}
    return {
        "changes": [
            {"keys": {k: _rounded(v) for k, v in c.keys.items()}, "word": c.verdict.word,
             "text": plain(c.text), "rides": c.rides}
            for c in shot.mended.changes
        ],
        "in_the_way": plain(shot.mended.in_the_way),
    }  # fmt: skip


def _rounded(value: Any) -> Any:
    return round(value, 3) if isinstance(value, float) else value


def place(outing: Outing) -> dict[str, Any]:
    """The ride on the map with its metres, wind and hour in words, what reading mended."""
    ride = outing.ride
    along, path = ride.along_m[0], ride.xyz_m[0, :, :2]
    at = np.unique(np.searchsorted(along, np.arange(0.0, along[-1] + EVERY_M, EVERY_M)))
    at = np.unique(np.append(at[at < len(along)], len(along) - 1))
    weather = outing.day.weather
    return {
        "title": plain(outing.titled),
        "ride_line": [
            [*p, round(float(m), 1)]
            for p, m in zip(line(outing.site.frame, path[at]), along[at], strict=True)
        ],
        "ride_m": float(along[-1]),
        "ride_m_s": round(float(along[-1]) / max(float(np.ptp(ride.t_s)), 1.0), 1),
        "air": first.air_short(weather),
        "wind_from_deg": first.from_deg(weather),
        "hour": first.begins(outing.day),
        "day": outing.day.start.astimezone(outing.day.timezone).date().isoformat(),
        "rides": outing.disturbance.rides,
        "remarks": [plain(r) for r in outing.repairs],
    }


def line(frame: Frame, path_m: Array) -> list[list[float]]:
    """A path `(k, 2)` in frame metres as [latitude, longitude] to a centimetre."""
    return [[round(float(lat), 7), round(float(lon), 7)] for lon, lat in frame.lonlat_deg(path_m)]
