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
from shotplan.output import answer
from shotplan.output.map.page import Panel, own
from shotplan.output.map.top import why
from shotplan.output.words import letter, plain


def panel(plan: Plan) -> Panel:
    """Its place in the page and its script."""
    return Panel(section(plan), own("recheck.js"))


def section(plan: Plan) -> str:
    """The form: no name in it; without a script it is not shown."""
    hand = plan.outing.site.launch is not None
    reads = (("hand", "in the hand"),) * hand + (("open", "10 m up, open"),)
    latest = answer.last_take_offs(plan).values()
    last = f"last {say.clock(min(latest))}" if latest else ""
    return (
        '<section id="recheck" hidden aria-labelledby="recheck-title">\n'
        '<h2 id="recheck-title">Check again</h2>\n'
        '<ul id="recheck-words" aria-live="polite"></ul>\n'
        "<p>Enter what you measure; what stays empty is not asked again. A word only gets stricter "
        "than the plan's own. Comma or point, as you like.</p>\n"
        '<h3>Wind <span id="recheck-force"></span></h3>\n<div class="wind">\n'
        f'<div id="recheck-rose" role="group" aria-label="wind from">{_rose()}</div>\n<div>\n'
        f"{_stepper('mean', 'mean, m/s')}{_stepper('gust', 'gusts, m/s')}</div>\n</div>\n"
        f"{_choice('height', 'where it was read', reads)}"
        f"<h3>Take off at <span>{last}</span></h3>\n{_stepper('time', 'each shot begins at')}"
        '<div id="recheck-paces" hidden>\n<h3>Pace <span>metres from the ride line, at a right '
        "angle, to the middle of the trunk or pole, or to the near wall</span></h3>\n</div>\n"
        '<div id="recheck-held"></div>\n'
        '<p><button type="button" id="recheck-none">empty all</button></p>\n</section>\n'
    )


def _rose() -> str:
    """Eight sides to tap around the one that is chosen, and a half step to either hand."""
    around = ("NW", "N", "NE", "W", "", "E", "SW", "S", "SE")
    buttons = (
        f'<button type="button" data-side="{SIDES.index(side)}" aria-pressed="false">{side}'
        "</button>"
        if side
        else '<output id="recheck-from">from?</output>'
        for side in around
    )
    turns = "".join(
        f'<button type="button" data-turn="{by}" aria-label="{says}">{sign}</button>'
        for by, sign, says in ((-1, "↺", "a bit to the left"), (1, "↻", "a bit to the right"))
    )
    return f"{''.join(buttons)}<p>{turns}</p>"


def _stepper(name: str, says: str) -> str:
    """A number with a button to either side; `name` is the field's."""
    return (
        f'<label class="stepper"><span>{says}</span><span class="steps">'
        f'<button type="button" data-step="-1" aria-label="{says}: less">−</button>'
        f'<input id="recheck-{name}" inputmode="decimal" autocomplete="off">'
        f'<button type="button" data-step="1" aria-label="{says}: more">+</button></span></label>\n'
    )


def _choice(name: str, says: str, options: tuple[tuple[str, str], ...]) -> str:
    """Buttons of which one is pressed, the first to begin with."""
    buttons = "".join(
        f'<button type="button" data-{name}="{key}" aria-pressed="{str(k == 0).lower()}">{text}'
        "</button>"
        for k, (key, text) in enumerate(options)
    )
    return f'<div class="choice" role="group" aria-label="{says}">{buttons}</div>\n'


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
            "sides": list(SIDES),
            "planned": _planned(plan),
            "held": _held(plan),
            "forces": [[least, says] for least, says in BEAUFORT],
            "step": STEP_MIN,
            "reach": REACH_MIN,
            "things": [_thing(plan, paced[thing]) for thing in order],
            "shots": [
                {
                    "letter": letter(index),
                    "name": plain(shot.scene.shot.name),
                    "why": why(shot),
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


def _planned(plan: Plan) -> dict[str, float | None]:
    """Where the steps of wind and gust begin: what the plan was made with."""
    weather = plan.outing.day.weather
    return {"mean": weather.wind_m_s, "gust": weather.gust_m_s}


def _held(plan: Plan) -> list[dict[str, str]]:
    """Where somebody holds people back: if nobody does, the plan says nothing of it."""
    return [
        {"name": plain(area.name or area.id), "by": plain(area.held_by)}
        for area in plan.outing.site.people
        if area.state == "held"
    ]


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
        "drawn": round(paces[0].drawn_m, 1),
        "says": f"at {paces[0].at_m:.0f} m of the ride; drawn {paces[0].drawn_m:.1f} m off, "
        + (sound if _high(nearest) <= (_low(farthest) or 0.0) else "no distance is sound"),
    }


def _high(value: float) -> float:
    return round(say.rounded_up(value, 0.1), 1)


def _low(value: float, step: float = 0.1) -> float | None:
    """Rounded down; None where there is no limit."""
    return round(say.rounded_down(value, step), 2) if math.isfinite(value) else None
