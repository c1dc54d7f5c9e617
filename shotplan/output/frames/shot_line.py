"""A shot in the words of a shot list: size, move, time, for what, what to note."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from shotplan.aids.frame_view import Frame
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.model.verdict import Verdict
from shotplan.output import reasons, words
from shotplan.output.words import plain

WIDE_SHARE, CLOSE_SHARE = 0.3, 0.8  # of the frame's height: under it wide, over it close
MOST_PASSED = 2


def shot_line(plan: Plan, index: int, frames: tuple[Frame, ...]) -> tuple[tuple[str, str], ...]:
    """Labels and texts."""
    shot = plan.shots[index]
    scene = shot.scene
    takes = f", {scene.shot.takes} takes" if scene.shot.takes > 1 else ""
    rows = (
        ("size", size(frames)),
        ("move", f"{scene.shot.style.flies}: {plain(scene.shot.style.numbers())}"),
        ("time", f"{shot.duration_s:.0f} s{takes}"),
        ("for", ", ".join(_for(plan, index))),
        ("note", _note(shot)),
    )
    return tuple((label, text) for label, text in rows if text)


def size(frames: tuple[Frame, ...]) -> str:
    """`wide: rider 1/6 of the height`, at the middle of what the frames show."""
    shares = [f.rider.share for f in frames if math.isfinite(f.rider.share)]
    if not shares:
        return ""
    share = float(np.median(shares))
    how = "wide" if share < WIDE_SHARE else "close" if share > CLOSE_SHARE else "medium"
    part = f"1/{round(1.0 / share)}" if share < 0.4 else f"{100.0 * share:.0f} %"
    return f"{how}: rider {part} of the height"


def _for(plan: Plan, index: int) -> Iterator[str]:
    """Where it stands among the shots, what it goes round or looks at, what he passes."""
    shot, last = plan.shots[index], len(plan.shots) - 1
    if last:
        yield "opens" if index == 0 else "ends" if index == last else "goes on"
    site = shot.scene.site
    about = [words.named(site, one) for one in shot.scene.shot.style.places()]
    if about:
        yield f"about {' and '.join(about)}"
    passed = dict.fromkeys(
        plain(m.called)
        for m in sorted(plan.marks, key=lambda m: (m.away_m, m.label))
        if m.named and not m.part and shot.ride_from_m <= m.along_m <= shot.ride_to_m
    )
    near = [name for name in passed if name not in about][:MOST_PASSED]
    if near:
        yield f"past {' and '.join(near)}"


def _note(shot: ShotPlan) -> str:
    """What decides its word, where that is not go."""
    if shot.verdict == Verdict.GO:
        return ""
    found = next((f for f in words.ranked(shot) if f.verdict == shot.verdict), None)
    return "" if found is None else reasons.reason(found, shot.scene.site)
