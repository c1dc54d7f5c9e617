"""Puts the map's page together: picture and live map on top, the words below, all in one file.

Plain string joining, no template: a name is escaped where it enters and is text from then on.
"""

from __future__ import annotations

import base64
import hashlib
import importlib
import json
from collections.abc import Set as AbstractSet
from html import escape
from importlib.resources import files
from pathlib import Path

from shotplan.model.verdict import Verdict
from shotplan.output import look
from shotplan.output.words import Answer, Row, ShotWords

FAVICON = "data:,"


def page(
    answer: Answer,
    *,
    picture: str,
    live: str,
    block: object,
    script: str,
    looks: AbstractSet[str],
    left_out: int,
    tool: str,
) -> str:
    """The whole HTML. `live` and `script` are folium's; `block` holds every word the live map
    shows; `looks` are explained in the legend."""
    leaflet_css, leaflet_js = _leaflet()
    styles = (leaflet_css, _own("map.css") + _verdict_css())
    scripts = (_own("early.js"), leaflet_js, _own("map.js"), _one_script(script))
    early, library, own, layers = (f"<script>{s}</script>" for s in scripts)
    head = (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy(styles, scripts)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<link rel="icon" href="{FAVICON}">\n'
        f"<title>{escape(answer.site)}: {answer.verdict.word}</title>\n"
        + "".join(f"<style>{s}</style>\n" for s in styles)
        + f"{early}\n</head>\n"
    )
    view = (
        '<div id="view">\n'
        f'<img id="still" src="{picture}" alt="Map of the site with the flights drawn by verdict; '
        'the same is told in words below.">\n'
        f'<div id="live">{live}</div>\n</div>\n'
    )
    parts = [
        head,
        "<body>\n",
        _header(answer),
        view,
        _legend(looks, left_out),
        "<main>\n",
        *(_shot(s) for s in answer.shots),
        _notes(answer, tool),
        "</main>\n",
        f'<script type="application/json" id="words">{json_block(block)}</script>\n',
        f"{library}\n{own}\n{layers}\n</body>\n</html>\n",
    ]
    return "".join(parts)


def json_block(values: object) -> str:
    """JSON that can stand inside a script element: nothing in it can end the element."""
    text = json.dumps(values, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _policy(styles: tuple[str, ...], scripts: tuple[str, ...]) -> str:
    """Nothing from the network, no script but the ones written here."""
    return (
        f"default-src 'none'; img-src data:; style-src {_hashes(styles)}; "
        f"script-src {_hashes(scripts)}; base-uri 'none'; form-action 'none'"
    )


def _hashes(texts: tuple[str, ...]) -> str:
    digests = (base64.b64encode(hashlib.sha256(t.encode("utf-8")).digest()) for t in texts)
    return " ".join(f"'sha256-{d.decode('ascii')}'" for d in digests)


def _own(name: str) -> str:
    return (files("shotplan.output") / name).read_text(encoding="utf-8").replace("\r\n", "\n")


def _leaflet() -> tuple[str, str]:
    """Leaflet's style sheet and script as folium wants them, with its pictures built in and every
    link to elsewhere taken out."""
    base = Path(importlib.import_module("xstatic.pkg.leaflet").BASE_DIR)
    css = (base / "leaflet.css").read_text(encoding="utf-8").replace("\r\n", "\n")
    for picture in sorted((base / "images").glob("*.png")):
        data = base64.b64encode(picture.read_bytes()).decode("ascii")
        css = css.replace(f"url(images/{picture.name})", f"url(data:image/png;base64,{data})")
    js = (base / "leaflet.js").read_text(encoding="utf-8").replace("\r\n", "\n")
    js = js.split("//# sourceMappingURL")[0].replace("https://leafletjs.com", "#")
    return css, js


def _one_script(script: str) -> str:
    """folium's statements; nothing in them can end the element."""
    return script.replace("\r\n", "\n").replace("</", "<\\/")


def _verdict_css() -> str:
    """One rule per verdict from the one palette."""
    rules = []
    for verdict, it in look.VERDICTS.items():
        dark = verdict in {Verdict.GO, Verdict.NO_GO}
        rules.append(
            f".{verdict.word}{{background:{it.line};color:{'#fff' if dark else look.INK};"
            f"border-color:{look.INK}}}"
        )
    return "\n" + "\n".join(rules) + "\n"


def _chip(verdict: Verdict) -> str:
    return f'<span class="chip {verdict.word}">{verdict.word}</span>'


def _header(answer: Answer) -> str:
    return (
        f"<header>\n<h1>{escape(answer.site)} {_chip(answer.verdict)}</h1>\n"
        f"<p>{escape(answer.rules)}</p>\n</header>\n"
    )


def _legend(looks: AbstractSet[str], left_out: int) -> str:
    keys = [k for k, it in look.LOOKS.items() if it.says and k in looks]
    items = "".join(f"<li>{_sample(k)} {escape(look.LOOKS[k].says)}</li>\n" for k in keys)
    more = (
        "<li>A, B …: where a shot starts; A1, A2 …: its places worth a look, in the order of the "
        "words below</li>\n"
    )
    if left_out:
        more += f"<li>{left_out} obstacles far from the flights are not drawn</li>\n"
    return (
        "<details id='legend'>\n<summary>What the lines mean</summary>\n"
        f"<ul>\n{items}{more}</ul>\n"
        "<p>Tap a tree, a wire, an area or a track to read what is known there.</p>\n</details>\n"
    )


def _sample(key: str) -> str:
    """A short piece of a look as inline SVG."""
    it = look.LOOKS[key]
    dash = f' stroke-dasharray="{" ".join(str(d) for d in it.dash)}"' if it.dash else ""
    cap = "butt" if it.square else "round"
    under = ""
    if f"casing-{it.says}" in look.LOOKS:
        casing = look.LOOKS[f"casing-{it.says}"]
        under = (
            f'<path d="M4 11H48" stroke="{casing.line}" stroke-width="{casing.width}" '
            'stroke-linecap="round"/>'
        )
    shape = (
        f'<rect x="6" y="3" width="40" height="16" fill="{it.fill}" fill-opacity="{it.density}" '
        f'stroke="{it.line}" stroke-width="{it.width}"{dash}/>'
        if it.fill
        else f'<path d="M4 11H48" stroke="{it.line}" stroke-width="{it.width}" '
        f'stroke-linecap="{cap}"{dash}/>'
    )
    return f'<svg width="52" height="22" aria-hidden="true">{under}{shape}</svg>'


def _shot(shot: ShotWords) -> str:
    rest = "".join(_row(r) for r in shot.rest)
    if shot.deciding:
        body = "".join(_row(r) for r in shot.deciding)
        body += f"<details>\n<summary>What else was checked ({len(shot.rest)})</summary>\n{rest}"
        body += "</details>\n"
    else:
        body = rest
    along = "".join(f"<li>{escape(s)}</li>\n" for s in shot.stretches)
    return (
        f"<section>\n<h2><b>{shot.letter}</b> {escape(shot.name)} {_chip(shot.verdict)}</h2>\n"
        f"<p>{escape(shot.style)}, {escape(shot.part)}</p>\n{body}"
        f"<details>\n<summary>Along the ride</summary>\n<ol>\n{along}</ol>\n</details>\n"
        "</section>\n"
    )


def _row(row: Row) -> str:
    pin = f'<span class="pin">{row.pin}</span> ' if row.pin else ""
    lines = [f"<p>{escape(row.reason)}</p>\n"]
    if row.verdict != Verdict.GO and row.advice:
        lines.append(f'<p class="do">{escape(row.advice)}</p>\n')
    small = [row.where, row.rides, *row.notes]
    lines += [f'<p class="small">{escape(s)}</p>\n' for s in small if s]
    return (
        f'<div class="row">\n<p class="what">{pin}{_chip(row.verdict)} <b>{escape(row.check)}</b> '
        f"{escape(row.distance)}</p>\n{''.join(lines)}</div>\n"
    )


def _notes(answer: Answer, tool: str) -> str:
    reminders = "".join(
        f'<li>{escape(r.text)} <span class="small">{escape(r.source)} ({escape(r.known)})</span>'
        "</li>\n"
        for r in answer.reminders
    )
    lines = "".join(f"<li>{escape(c)}</li>\n" for c in answer.cautions)
    return (
        f"<section>\n<h2>Before you fly</h2>\n<ul>\n{lines}</ul>\n"
        f"<h2>Reminders of the rule pack</h2>\n<p>{escape(answer.rules)}</p>\n"
        f"<ul>\n{reminders}</ul>\n"
        f'<p class="small">Written by {escape(tool)}. The live map is drawn with Leaflet '
        "(BSD 2-Clause).</p>\n</section>\n"
    )
