"""report.json: the whole answer for machines (the format is fixed, see FORMATS).

The same plan gives the same bytes: no clock, no random names, numbers rounded.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from shotplan.judging.judged import Finding, Plan, ShotPlan, Spot
from shotplan.model.frame import Frame
from shotplan.output import answer
from shotplan.output.words import all_plain

NAME = "report.json"


def output(plan: Plan) -> dict[str, bytes]:
    """The file's name and bytes."""
    return {NAME: text(plan).encode("utf-8")}


def text(plan: Plan) -> str:
    """The report as JSON text, one key a line; names as the terminal shows them."""
    return json.dumps(all_plain(report(plan)), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def report(plan: Plan) -> dict[str, Any]:
    """The report as plain values: lengths m, angles deg, times s; None is unknown."""
    outing = plan.outing
    return {
        "format": 1,
        "tool": f"shotplan {plan.version}, plan {outing.fingerprint}",
        "site": outing.site.name,
        "rules": {"id": outing.rules.id, "read_on": outing.rules.read_on},
        "verdict": plan.verdict.word,
        "inputs": dict(sorted(outing.inputs.items())),
        "shots": [_shot(shot, outing.site.frame) for shot in plan.shots],
        "reminders": [
            {"text": r.text, "source": r.source, "known": r.known} for r in outing.rules.reminders
        ],
        "cautions": [*answer.cautions(plan), *_remarks(plan.shots)],
    }


def _shot(shot: ShotPlan, frame: Frame) -> dict[str, Any]:
    return {
        "name": shot.scene.shot.name,
        "style": shot.scene.shot.style.name,
        "verdict": shot.verdict.word,
        "ride_from_m": number(shot.ride_from_m),
        "ride_to_m": number(shot.ride_to_m),
        "duration_s": number(shot.duration_s),
        "rides": shot.rides,
        "findings": [_finding(found, frame) for found in shot.findings],
        "stretches": [
            {
                "from_m": number(s.from_m),
                "to_m": number(s.to_m),
                "verdict": s.verdict.word,
                "binding": s.binding,
                "margin": number(s.margin),
            }
            for s in shot.stretches
        ],
        **_changes(shot),
    }


def _changes(shot: ShotPlan) -> dict[str, Any]:
    """Each as it was flown; nothing is said where nobody looked for any."""
    if shot.mended is None:
        return {}
    return {
        "changes": [
            {
                "keys": dict(one.keys),
                "verdict": one.verdict.word,
                "rides": one.rides,
                "seed": one.seed,
                "text": one.text,
            }
            for one in shot.mended.changes
        ]
    }


def _finding(found: Finding, frame: Frame) -> dict[str, Any]:
    return {
        "check": found.check,
        "family": found.family,
        "verdict": found.verdict.word,
        "value": number(found.value),
        "limit": number(found.limit),
        "margin": number(found.margin),
        "unit": found.unit,
        "thing": found.thing,
        "rides_breaking": found.rides_breaking,
        "share_bound": number(found.share_bound),
        "at": _at(found.at, frame),
        "reason": found.reason,
        "advice": found.advice,
        "source": found.source,
        "assumptions": list(found.assumptions),
        "also": [
            {
                "verdict": one.verdict.word,
                "value": number(one.value),
                "limit": number(one.limit),
                "margin": number(one.margin),
                "unit": one.unit,
                "thing": one.thing,
                "at": _at(one.at, frame),
                "reason": one.reason,
                "advice": one.advice,
            }
            for one in found.also
        ],
    }


def _at(at: Spot | None, frame: Frame) -> dict[str, Any] | None:
    if at is None:
        return None
    lon, lat = (float(v) for v in frame.lonlat_deg(np.array(at.xyz_m[:2])))
    return {
        "time_s": number(at.time_s),
        "ride_m": number(at.ride_m),
        "lon": number(lon, 9),
        "lat": number(lat, 9),
        "height_above_launch_m": number(at.height_above_launch_m),
        "height_m": number(at.height_m),
        "surface_m": number(at.surface_m),
    }


def _remarks(shots: Sequence[ShotPlan]) -> list[str]:
    lines = [
        f"{shot.scene.shot.name}: {found.check}: {remark.text}"
        + (f" [{remark.source}]" if remark.source else "")
        for shot in shots
        for found in shot.findings
        for remark in found.remarks
        if not remark.caution  # those are told in `also`
    ]
    return list(dict.fromkeys(lines))


def number(value: float | None, digits: int = 3) -> float | None:
    """Rounded; unknown and what does not apply are None; never minus nought."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits) + 0.0
