"""The panel on which a plan is asked again on the hill, and the table it looks up.

The page holds fixed words and empty fields; `recheck.js` puts names in as text and looks up what
is entered. Numbers are rounded to the stricter side.
"""

from __future__ import annotations

import math
from datetime import datetime, tzinfo

from shotplan.aids.recheck import REACH_MIN, STEP_MIN, Pace, Recheck, recheck
from shotplan.aids.recheck_wind import SIDES, Codes
from shotplan.judging.judged import Plan
from shotplan.kernels.motion.wind import BEAUFORT
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.output.map.page import Panel, own
from shotplan.output.words import letter, plain


def panel(plan: Plan) -> Panel:
    """Its place in the page and its script."""
    return Panel(section(plan), own("recheck.js"))


def section(plan: Plan) -> str:
    """The form: no name in it; without a script it is not shown."""
    sides = "".join(f'<option value="{k}">{side}</option>' for k, side in enumerate(SIDES))
    hand = plan.outing.site.launch is not None
    heights = ('<option value="hand">in the hand, at the launch</option>' if hand else "") + (
        '<option value="open">10 m up, in the open</option>'
    )
    number = 'type="number" inputmode="decimal" min="0" step="0.1"'
    return (
        '<section id="recheck" hidden aria-labelledby="recheck-title">\n'
        '<h2 id="recheck-title">Asked again on the hill</h2>\n'
        "<p>Enter what you measure; what is left empty is not asked again. A word only gets "
        "stricter than the plan's own. Unknown: plan again with these numbers. In the hand is 2 m "
        "up; 10 m up in the open is what a forecast gives.</p>\n"
        '<div class="fields">\n'
        f'<label>wind from <select id="recheck-from"><option value="">not entered</option>{sides}'
        "</select></label>\n"
        f'<label>mean, m/s <input id="recheck-mean" {number}></label>\n'
        f'<label>gust, m/s <input id="recheck-gust" {number}></label>\n'
        f'<label>read <select id="recheck-height">{heights}</select></label>\n'
        '<p id="recheck-force" class="small"></p>\n'
        '<label>each shot begins at <input id="recheck-time" type="time"></label>\n'
        "</div>\n"
        '<div id="recheck-paces" class="fields" hidden>\n<p>Paced at a right angle from the ride '
        "line to the middle of the trunk or pole, or to the near wall, in metres:</p>\n</div>\n"
        '<ul id="recheck-words" aria-live="polite"></ul>\n</section>\n'
    )


def block(plan: Plan) -> dict[str, object]:
    """What the script looks up: per shot the winds as digits (a verdict code for every mean and
    gust, row by row, one string a side), the hours, and the distances worth pacing."""
    tables = [recheck(plan, shot) for shot in plan.shots]
    zone = plan.outing.day.timezone
    paced: dict[int, list[Pace]] = {}
    for pace in (p for table in tables for p in table.pace):
        paced.setdefault(pace.thing, []).append(pace)
    order = sorted(paced, key=lambda thing: (paced[thing][0].at_m, thing))
    return {
        "recheck": {
            "words": [v.word for v in Verdict],
            "forces": [[least, says] for least, says in BEAUFORT],
            "step": STEP_MIN,
            "reach": REACH_MIN,
            "things": [_thing(plan, paced[thing]) for thing in order],
            "shots": [
                {
                    "letter": letter(index),
                    "name": plain(shot.scene.shot.name),
                    **_shot(table, zone, order),
                }
                for index, (shot, table) in enumerate(zip(plan.shots, tables, strict=True))
            ],
        }
    }


def _shot(table: Recheck, zone: tzinfo, order: list[int]) -> dict[str, object]:
    return {
        "word": int(table.verdict),
        "open": _digits(table.winds.open),
        "hand": _digits(table.winds.hand),
        "gusts": table.winds.open.shape[2],
        "push": [[_low(v, 0.01) for v in limits] for limits in table.winds.push_m_s],
        "start": _minutes(table.start, zone),
        "times": "".join(str(code) for code in table.times),
        "pace": [
            [order.index(p.thing), _high(p.near_m), _low(p.far_m), _high(p.least_m), _low(p.most_m)]
            for p in table.pace
        ],
    }


def _digits(codes: Codes) -> list[str]:
    return ["".join(str(code) for code in side.ravel()) for side in codes]


def _minutes(at: datetime, zone: tzinfo) -> float:
    """Since midnight, by the clock of the site."""
    local = at.astimezone(zone)
    return round(local.hour * 60 + local.minute + local.second / 60.0, 2)


def _thing(plan: Plan, paces: list[Pace]) -> dict[str, object]:
    """Its name, where to pace it, and what all shots that pass it can do with."""
    thing = plan.outing.site.obstacles.things[paces[0].thing]
    nearest = max(max(p.near_m, p.least_m) for p in paces)
    farthest = min(min(p.far_m, p.most_m) for p in paces)
    sound = f"{_high(nearest):g} to {_low(farthest):g} m is sound"
    return {
        "name": plain(thing.label),
        "says": f"at {paces[0].at_m:.0f} m of the ride, drawn {paces[0].drawn_m:.1f} m off; "
        + (sound if _high(nearest) <= (_low(farthest) or 0.0) else "no distance is sound"),
    }


def _high(value: float) -> float:
    return round(say.rounded_up(value, 0.1), 1)


def _low(value: float, step: float = 0.1) -> float | None:
    """Rounded down; None where there is no limit."""
    return round(say.rounded_down(value, step), 2) if math.isfinite(value) else None
