"""How things are drawn: colours, widths, dashes. One table for the live map and the still picture.

The palette was chosen for this project. A verdict shows twice, by colour and by line: even,
dashed, dotted, broad with crosses, so that it reads on a grey printout and to eyes that mix up
colours.
"""

from __future__ import annotations

from typing import NamedTuple

from shotplan.model.verdict import Verdict

INK = "#1d2125"
PAPER = "#f4f1ea"
HEIGHT_INK = "#5a4a2b"  # of height figures: the colour of their lines, dark enough to read
WIDTH_PX, DPI = 780, 144  # of a picture for the phone, which shows it at half of it
WIDE = WIDTH_PX / 2.0  # in pixels of the phone's page; one is a point of type, too


# Of names and figures, by the look of what they name; the others are ink.
NAMES = {"people": "#8c3a1e", "water": "#234456", "wood": "#2b3f2e", "keep-out": "#5b1a52",
         "metre": "#5a3d12"}  # fmt: skip


class Look(NamedTuple):
    """`line` colour, `width` in px, `dash` lengths in px (() even); `fill` colour ("" none) and
    how dense; `square` ends; `says` what the legend calls it ("" not in the legend)."""

    line: str
    width: float
    dash: tuple[int, ...] = ()
    fill: str = ""
    density: float = 0.0
    square: bool = False
    says: str = ""


LOOKS: dict[str, Look] = {
    "contour": Look("#8b7a5e", 0.7),
    "contour-fifth": Look("#75633f", 1.4, says="same elevation, m above sea level"),
    "water": Look("#5f7f95", 1.0, fill="#9fb9c9", density=0.6, says="water"),
    "boundary": Look(INK, 2.5, (14, 4, 2, 4), says="boundary: the aircraft stays inside"),
    "surveyed": Look("#4d4a73", 1.5, (3, 5), says="edge of what was surveyed"),
    "keep-out": Look("#5b1a52", 2.5, (2, 3), "#5b1a52", 0.22, says="keep-out"),
    "people": Look("#a8492a", 2.0, (8, 3), "#d98a63", 0.30, says="other people may be here"),
    "wildlife": Look("#5f5a1f", 2.0, (2, 6), "#b5ad55", 0.20, says="wildlife"),
    "wood": Look("#3c5340", 1.5, (), "#6f8a6c", 0.45, says="wood"),
    "tree": Look("#3c5340", 1.5, (), "#557255", 0.75, says="tree, to scale"),
    "building": Look("#3f3a36", 1.5, (), "#857b72", 0.80, says="building"),
    "pole": Look(INK, 1.5, (), INK, 0.90, says="pole"),
    "wire": Look("#0d1013", 2.0, says="wire"),
    "grown": Look("#4a4f55", 1.2, (4, 4), says="one standard error of its place"),
    "fall": Look("#7a5230", 1.5, (6, 3), "#7a5230", 0.14, says="it may come down here if it stops"),
    "band-99": Look("#3a6f86", 1.2, (3, 4), "#3a6f86", 0.10, says="99 of 100 disturbed rides"),
    "band-95": Look("#3a6f86", 1.0, (), "#3a6f86", 0.14, says="95 of 100 rides"),
    "band-50": Look("#3a6f86", 0.6, (), "#3a6f86", 0.20, says="half of the rides"),
    "unseen": Look("#b49be0", 24.0, says="not seen by the watcher the layer names"),
    "sight-unknown": Look(
        "#b49be0", 24.0, (3, 9), square=True, says="not known whether it is seen"
    ),
    "sight-free": Look("#5a3d8f", 1.2, says="line of sight, free"),
    "sight-far": Look("#5a3d8f", 1.2, (10, 6), says="line of sight, too far to steer by eye"),
    "sight-cut": Look("#5a3d8f", 2.0, (2, 5), says="line of sight, cut where it ends"),
    "sight-end": Look("#5a3d8f", 3.0),
    "home": Look("#12564a", 1.0, says="the way home when left alone"),
    "home-worst": Look("#12564a", 4.0, (16, 6), says="the way home from the worst place"),
    "drawn": Look("#4d4a73", 1.5, (6, 3), "#4d4a73", 0.10, says="drawn by a check; tap it"),
    "ride": Look("#6a4a1c", 2.5, says="the ride, a mark each 50 m in its direction"),
    "tick": Look("#6a4a1c", 2.5),
    "blind": Look("#5f656c", 16.0, (2, 9), square=True, says="flies toward what it does not sense"),
    "end": Look("#ffffff", 1.5, (), INK, 1.0, says="where a shot ends"),
    "touch": Look(INK, 26.0),  # drawn clear: only there to be hit by a finger
}

VERDICTS: dict[Verdict, Look] = {
    Verdict.GO: Look("#2f86b7", 6.0, says="go"),
    Verdict.CAUTION: Look("#f0b429", 6.0, (7, 6), square=True, says="caution"),
    Verdict.UNKNOWN: Look("#ffffff", 5.0, (1, 9), says="unknown"),
    Verdict.NO_GO: Look("#b3184f", 10.0, says="no-go"),  # crosses come on top
}
MARKS: dict[str, str] = {
    "launch": "the launch, and who stands there",
    "stand": "a place where somebody of the crew stands",
    "place": "another place",
    "start": "where shot A starts",
    "pin": "a finding, A·1, A·2 … in the words below: the two worst of each shot, all of them from "
    "nearer",
    "call": "the rider is here when stop must have been called for a tight place ahead",
    "rider": "the rider at the moment chosen under the map",
    "craft": "the aircraft then, and the edges of what its camera shows",
    "hatch": "the ground is not known here",
}
for _verdict, _look in VERDICTS.items():
    LOOKS[f"track-{_verdict.word}"] = _look
    LOOKS[f"casing-{_verdict.word}"] = Look(INK, _look.width + 3.0)
