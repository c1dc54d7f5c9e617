"""The findings a tap on their tags tells, shot by shot, for the page's JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.model.frame import Frame
from shotplan.model.verdict import Verdict
from shotplan.output import measures, words
from shotplan.output.reasons import how_near, reason, what

MARKS = {Verdict.NO_GO: "×", Verdict.CAUTION: "!", Verdict.UNKNOWN: "?"}


def block(plan: Plan) -> dict[str, Any]:
    """Of each shot what is not go, what decides first: `tag` ("" where it has no place), `mark`,
    `word`, `title`, `rows`, `at` (longitude, latitude or null)."""
    frame = plan.outing.site.frame
    return {
        "finds": [
            [_find(f, shot, pins.get(f.check, ""), frame) for f in words.ranked(shot) if f.verdict]
            for shot, pins in (
                (s, words.pins(s, words.letter(i))) for i, s in enumerate(plan.shots)
            )
        ]
    }


def _find(found: Finding, shot: ShotPlan, tag: str, frame: Frame) -> dict[str, Any]:
    site, at = shot.scene.site, found.told.at
    unknown = found.verdict == Verdict.UNKNOWN
    said = reason(found, site) if unknown else what(found, site)
    lonlat = None
    if at is not None:
        lonlat = [round(float(v), 7) for v in frame.turned_deg(np.array(at.xyz_m[:2]))]
    return {
        "tag": tag,
        "mark": MARKS[found.verdict],
        "word": found.verdict.word,
        "title": said[:1].upper() + said[1:],
        "rows": [list(row) for row in _rows(found, shot)],
        "at": lonlat,
    }


def _rows(found: Finding, shot: ShotPlan) -> Iterator[tuple[str, str]]:
    launch = shot.scene.site.launch is not None
    if found.verdict == Verdict.UNKNOWN:
        yield ("why", words.plain(found.reason))
    elif how_near(found):
        yield ("room" if found.told.unit == "m" else "how much", how_near(found))
    if found.told.at is not None:
        yield ("where", measures.where(found.told.at, launch=launch))
    if shot.rides > 1 and found.rides_breaking:
        yield ("rides", f"{found.rides_breaking} of {shot.rides} break it")
    if change := words.flown_change(shot):
        yield ("change", change)
