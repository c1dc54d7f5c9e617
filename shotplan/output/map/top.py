"""The first screen of the page: where and when, every shot in a row with its word and one reason.

A row is a link to the shot's words until the live map stands; then a tap shows that shot alone
(`shots.js`).
"""

from __future__ import annotations

from html import escape
from typing import NamedTuple

from shotplan.judging.judged import Plan, ShotPlan
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.output import answer, first
from shotplan.output.reasons import reason
from shotplan.output.words import letter, plain, ranked

MOST_REASONS = 5  # with more shots than that the rows are lower and hold no reason
CLEAR = "nothing found against it"


class ShotRow(NamedTuple):
    """A shot's letter, name and word, and the one reason for it."""

    letter: str
    name: str
    verdict: Verdict
    why: str


class Top(NamedTuple):
    """What the first screen says."""

    site: str
    when: str
    last: str
    verdict: Verdict
    shots: tuple[ShotRow, ...]


def top(plan: Plan) -> Top:
    """Of a plan; the hours are the site's own."""
    latest = answer.last_take_offs(plan).values()
    return Top(
        site=plain(plan.outing.titled),
        when=first.begins(plan.outing.day),
        last=f"last take-off {say.clock(min(latest))}" if latest else "",
        verdict=plan.verdict,
        shots=tuple(
            ShotRow(letter(i), plain(s.name), s.verdict, why(s)) for i, s in enumerate(plan.shots)
        ),
    )


def why(shot: ShotPlan) -> str:
    """The one reason for a shot's word."""
    if shot.verdict == Verdict.GO:
        return CLEAR
    return reason(ranked(shot)[0], shot.scene.site)


def chip(verdict: Verdict) -> str:
    """A verdict's word on its colour; its marks are drawn by the style sheet."""
    return f'<span class="chip {verdict.word}">{verdict.word}</span>'


def html(said: Top) -> str:
    """Head and rows."""
    rows = "".join(_row(s) for s in said.shots)
    many = " class=many" if len(said.shots) > MOST_REASONS else ""
    last = f"<span>{escape(said.last)}</span>" if said.last else ""
    return (
        f'<header id="top">\n<h1>{escape(said.site)} {chip(said.verdict)}</h1>\n'
        f"<p><span>{escape(said.when)}</span>{last}</p>\n</header>\n"
        f'<nav id="shots" aria-label="shots"{many}>\n{rows}</nav>\n'
    )


def _row(shot: ShotRow) -> str:
    return (
        f'<a href="#shot-{shot.letter}"><b>{shot.letter}</b><span class="said">'
        f'<span class="named">{escape(shot.name)}</span>'
        f'<span class="why">{escape(shot.why)}</span></span>{chip(shot.verdict)}</a>\n'
    )


def bar() -> str:
    """The three buttons at the foot of the screen."""
    return (
        '<nav id="bar" aria-label="parts of the page"><a href="#top">map</a>'
        '<a href="#recheck">check again</a><a href="#told">in words</a></nav>\n'
    )


def sheet() -> str:
    """The empty sheet that comes up from below when something is tapped; filled as text."""
    return (
        '<aside id="sheet" role="dialog" aria-labelledby="sheet-title" hidden>\n'
        '<div id="sheet-head"><b id="sheet-mark" aria-hidden="true"></b>'
        '<h2 id="sheet-title"></h2>'
        '<button type="button" id="sheet-close" aria-label="close">✕</button></div>\n'
        '<div id="sheet-body"></div>\n'
        '<div id="sheet-next"><button type="button" id="sheet-all">◂ all findings</button>'
        '<button type="button" id="sheet-on"></button></div>\n</aside>\n'
    )
