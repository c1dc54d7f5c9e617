"""Puts the map's page together: picture and live map on top, the words below, all in one file.

Plain string joining, no template: a name is escaped where it enters and is text from then on.
"""

from __future__ import annotations

import importlib
import json
from collections.abc import Set as AbstractSet
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import NamedTuple

from shotplan.model.verdict import Verdict
from shotplan.output.answer import Answer
from shotplan.output.first import Air
from shotplan.output.html import folded, head, items, picture
from shotplan.output.map import compass, legend
from shotplan.output.map import top as first_screen
from shotplan.output.map.top import Top, chip
from shotplan.output.words import Row, ShotWords

STYLES = ("map.css", "first.css", "recheck.css")
OURS = ("map.js", "aside.js", "placing.js", "sheet.js", "shots.js")
SOME_REMINDERS = 3  # the others are folded away


class Panel(NamedTuple):
    """Something that works under the map: its HTML (names escaped), and its own script, which
    runs after `map.js` and before the map is made."""

    html: str
    script: str


def page(
    answer: Answer,
    *,
    top: Top,
    still: str,
    live: str,
    block: object,
    script: str,
    panels: tuple[Panel, ...],
    looks: AbstractSet[str],
    printed: AbstractSet[str],
    air: Air,
    left_out: int,
    tool: str,
) -> str:
    """The whole HTML. `live` and `script` are folium's; `block` holds every word the live map
    and the `panels` below it show, the first of them on the first screen; `looks` are explained in
    the legend, also on paper those of the `still` map (`printed`); `air` is drawn beside north."""
    leaflet_css, leaflet_js = _leaflet()
    styles = (leaflet_css, "".join(map(own, STYLES)))
    ours = ("".join(map(own, OURS)), *(p.script for p in panels), _one_script(script))
    scripts = (own("early.js"), leaflet_js, *ours)
    live += compass.html(air.says, air.from_deg, air.speed_m_s) + _credit(answer.credits)
    view = f'<div id="view">\n{still}\n<div id="live">{live}</div>\n</div>\n'
    parts = [
        head(f"{answer.site}: {answer.verdict.word}", styles, scripts),
        '<body>\n<div id="first">\n',
        first_screen.html(top),
        view,
        *(p.html for p in panels[:1]),
        first_screen.bar(),
        "</div>\n",
        *(p.html for p in panels[1:]),
        legend.html(looks, printed, left_out),
        '<main id="told">\n',
        *(f"<p>{escape(text)}</p>\n" for text in (answer.tally, answer.planned)),
        *(_shot(s) for s in answer.shots),
        _notes(answer, tool),
        "</main>\n",
        first_screen.sheet(),
        f'<script type="application/json" id="words">{json_block(block)}</script>\n',
        "\n".join(f"<script>{s}</script>" for s in scripts[1:]),
        "\n</body>\n</html>\n",
    ]
    return "".join(parts)


def json_block(values: object) -> str:
    """JSON that can stand inside a script element: nothing in it can end the element."""
    text = json.dumps(values, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def own(name: str, room: str = "map") -> str:
    """A script or style sheet that stands in this room, or in another of `output`."""
    return (
        (files(f"shotplan.output.{room}") / name).read_text(encoding="utf-8").replace("\r\n", "\n")
    )


def _leaflet() -> tuple[str, str]:
    """Leaflet's style sheet and script as folium wants them, with its pictures built in and every
    link to elsewhere taken out."""
    base = Path(importlib.import_module("xstatic.pkg.leaflet").BASE_DIR)
    css = (base / "leaflet.css").read_text(encoding="utf-8").replace("\r\n", "\n")
    for image in sorted((base / "images").glob("*.png")):
        css = css.replace(f"url(images/{image.name})", f"url({picture(image.read_bytes())})")
    js = (base / "leaflet.js").read_text(encoding="utf-8").replace("\r\n", "\n")
    js = js.split("//# sourceMappingURL")[0].replace("https://leafletjs.com", "#")
    return css, js


def _one_script(script: str) -> str:
    """folium's statements; nothing in them can end the element."""
    return script.replace("\r\n", "\n").replace("</", "<\\/")


def _credit(credited: str) -> str:
    """Whose data the map shows, in its corner."""
    return f'<p id="credit">{escape(credited)}</p>' if credited else ""


def _shot(shot: ShotWords) -> str:
    rest = "".join(_row(r) for r in shot.rest)
    if shot.deciding:
        body = "".join(_row(r) for r in shot.deciding)
        body += f"<details>\n<summary>What else was checked ({len(shot.rest)})</summary>\n{rest}"
        body += "</details>\n"
    else:
        body = rest
    said = f'<p class="combined">{escape(shot.combined)}</p>\n' if shot.combined else ""
    if shot.change:
        said += f'<p class="change">{escape(shot.change)}</p>\n'
    return (
        f'<section id="shot-{shot.letter}">\n'
        f"<h2><b>{shot.letter}</b> {escape(shot.name)} {chip(shot.verdict)}</h2>\n"
        f"<p>{escape(shot.style)}, {escape(shot.part)}</p>\n{said}{body}"
        f"<details>\n<summary>Along the ride</summary>\n<ol>\n{items(shot.stretches)}</ol>\n"
        f"</details>\n{_calls(shot)}</section>\n"
    )


def _calls(shot: ShotWords) -> str:
    if not shot.calls:
        return ""
    return folded("Last call: by where stop must have been called", items(shot.calls))


def _row(row: Row) -> str:
    """A finding: what was found and what to do is seen, how the number came about is folded."""
    pin = f'<span class="pin">{row.pin}</span> ' if row.pin else ""
    lines = [f"<p>{escape(row.reason)}</p>\n"]
    if row.verdict != Verdict.GO and row.advice:
        lines.append(f'<p class="do">{escape(row.advice)}</p>\n')
    lines += [f"<p>{escape(s)}</p>\n" for s in row.seen]
    lines += [f'<p class="small">{escape(s)}</p>\n' for s in (row.where, row.rides) if s]
    if row.notes:
        notes = items(n.text + (f" [{n.source}]" if n.source else "") for n in row.notes)
        lines.append(folded("Why this number", notes, kind=" class='small'"))
    question = escape(row.title[len(row.check) :])
    return (
        f'<div class="row">\n<p class="what">{pin}{chip(row.verdict)} <b>{escape(row.check)}</b>'
        f"{question}: {escape(row.distance)}</p>\n{''.join(lines)}</div>\n"
    )


def _notes(answer: Answer, tool: str) -> str:
    """The day in order, what to do before flying, and the law last."""
    day = read = ""
    credits = escape(answer.credits)
    data = f'<p class="small">Data of the map: {credits}.</p>\n' if credits else ""
    if answer.day:
        day = (
            f'<h2>The day, in order</h2>\n<p class="small">local time, {escape(answer.zone)}</p>\n'
            f"<ul>\n{items(answer.day)}</ul>\n"
        )
    if answer.read:
        read = f"<h2>On what was read</h2>\n<ul>\n{items(answer.read)}</ul>\n"
    return (
        f'<section>\n{day}<p class="small">{escape(answer.proved)}</p>\n'
        f"<h2>Before you fly</h2>\n<ul>\n{items(answer.cautions)}</ul>\n{read}"
        f"<h2>Reminders of the rule pack</h2>\n<p>{escape(answer.rules)}</p>\n"
        f"{_reminders(answer)}{data}"
        f'<p class="small">Written by {escape(tool)}. The live map is drawn with Leaflet '
        "(BSD 2-Clause).</p>\n</section>\n"
    )


def _reminders(answer: Answer) -> str:
    items = [
        f'<li>{escape(r.text)} <span class="small">{escape(r.source)} ({escape(r.known)})</span>'
        "</li>\n"
        for r in answer.reminders
    ]
    some, others = items[:SOME_REMINDERS], items[SOME_REMINDERS:]
    text = f"<ul>\n{''.join(some)}</ul>\n"
    if others:
        text += folded(f"{len(others)} more", "".join(others))
    return text
