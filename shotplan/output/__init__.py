"""Everything a plan is written out as.

To add a kind of file: write `output/<name>.py` with a function `output(plan) -> {name: bytes}`
(same plan, same bytes; no clock, no network; names from files are hostile until escaped; heavy
libraries are imported inside the function) and add its `output` to `OUTPUTS` below. `shotplan
plan` then writes it, and the tests over `OUTPUTS` take it in. What only helps another file here
stands in `PARTS`.
"""

from __future__ import annotations

from collections.abc import Callable

from shotplan.model.judged import Plan
from shotplan.output import card, profile, report, storyboard, take_along, verdict_strip, watch
from shotplan.output import map as live_map

OUTPUTS: tuple[Callable[[Plan], dict[str, bytes]], ...] = (
    report.output,
    live_map.output,
    take_along.output,
    storyboard.output,
    card.output,
    watch.output,
    verdict_strip.output,
    profile.output,
)

PARTS = (
    "brief",
    "brief_back",
    "brief_front",
    "brief_page",
    "brief_rows",
    "brief_shots",
    "brief_typst",
    "brief_wind",
    "brief_words",
    "brief_wrong",
    "calls",
    "card_words",
    "drawing",
    "first",
    "flights",
    "folder",
    "frame_marks",
    "frame_picture",
    "ground",
    "hours",
    "inventory",
    "landowner",
    "legend",
    "lettering",
    "light",
    "light_picture",
    "look",
    "measures",
    "moments",
    "overlays",
    "page",
    "paper",
    "pieces",
    "placing",
    "preview",
    "questions",
    "recheck",
    "shapes",
    "side_view",
    "site_file",
    "slider",
    "slider_rows",
    "spots",
    "spots_picture",
    "still",
    "strip",
    "style_runs",
    "style_strip",
    "styles",
    "surroundings",
    "track",
    "watch_names",
    "watch_picture",
    "watch_view",
    "watched",
    "words",
)


def everything(plan: Plan) -> dict[str, bytes]:
    """All files of a plan: name -> bytes."""
    return {name: data for output in OUTPUTS for name, data in output(plan).items()}
