"""The legend: a sample of everything that is on the map, beside what it means."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from html import escape

from shotplan.output import look
from shotplan.output.look import INK, Look

_ROUND = {"tree", "pole", "grown"}
_DIAMOND = "M26 3L34 11L26 19L18 11Z"


def html(looks: AbstractSet[str], printed: AbstractSet[str], left_out: int) -> str:
    """The folded legend of the `looks` that are on the live map, those of the still picture
    `printed`; `left_out` obstacles are on neither."""
    pins = {"pin"} if any(k.startswith("pin-") for k in looks) else set()
    keys = [k for k, it in look.LOOKS.items() if it.says and k in looks]
    items = [_item(_sample(k), look.LOOKS[k].says, k in printed) for k in keys]
    keys = [k for k in look.MARKS if k in looks | pins]
    items += [_item(_mark(k), look.MARKS[k], k in printed | pins) for k in keys]
    if left_out:
        items.append(f"<li>{left_out} obstacles far from the flights are not drawn</li>\n")
    return (
        "<details id='legend'>\n<summary>What the lines mean</summary>\n"
        f"<ul>\n{''.join(items)}</ul>\n"
        "<p>Tap a tree, a wire, an area or a track to read what is known there. The button at the "
        "top right of the map lists all layers: where it flies over all rides, where it may come "
        "down, what each watcher sees and the way home are off at first.</p>\n</details>\n"
    )


def _item(shapes: str, says: str, printed: bool) -> str:
    only = "" if printed else ' class="live-only"'
    return (
        f'<li{only}><svg width="52" height="22" aria-hidden="true">{shapes}</svg> '
        f"<span>{escape(says)}</span></li>\n"
    )


def _sample(key: str) -> str:
    """A short piece of a look as inline SVG."""
    it = look.LOOKS[key]
    if key in _ROUND:
        return _ring(key, it)
    if key == "end":
        return f'<path d="M18 4L34 11L18 18Z" fill="{INK}"/>'
    pen = f'stroke="{it.line}" stroke-width="{it.width}"{_dash(it)}'
    if it.fill:
        return (
            f'<rect x="6" y="3" width="40" height="16" fill="{it.fill}" '
            f'fill-opacity="{it.density}" {pen}/>'
        )
    cap = "butt" if it.square else "round"
    line = f'<path d="M4 11H48" {pen} stroke-linecap="{cap}"/>'
    casing = look.LOOKS.get(f"casing-{it.says}")
    if casing is not None:
        line = (
            f'<path d="M4 11H48" stroke="{casing.line}" stroke-width="{casing.width}" '
            f'stroke-linecap="round"/>{line}'
        )
    if key == "track-no-go":
        crosses = "".join(f"M{x - 3} 8l6 6m0 -6l-6 6" for x in (14, 26, 38))
        line += f'<path d="{crosses}" stroke="#fff" stroke-width="1.8"/>'
    return line


def _ring(key: str, it: Look) -> str:
    """A thing seen from above; its doubt is a dashed ring around it."""
    inner = look.LOOKS["tree"] if key == "grown" else it
    radius = 3.5 if key == "pole" else 5.5
    thing = (
        f'<circle cx="26" cy="11" r="{radius}" fill="{inner.fill}" fill-opacity="{inner.density}" '
        f'stroke="{inner.line}" stroke-width="{inner.width}"/>'
    )
    if key != "grown":
        return thing
    ring = f'<circle cx="26" cy="11" r="9.5" stroke="{it.line}" stroke-width="{it.width}"'
    return f"{thing}{ring}{_dash(it)}/>"


def _dash(it: Look) -> str:
    return f' stroke-dasharray="{" ".join(str(d) for d in it.dash)}"' if it.dash else ""


def _mark(key: str) -> str:
    """What stands at a place."""
    if key == "hatch":
        stripes = "".join(f"M{x} 19L{x + 16} 3" for x in range(0, 40, 8))
        return f'<path d="{stripes}" stroke="#787878" stroke-width="2"/>'
    if key == "rider":
        return (
            f'<circle cx="26" cy="11" r="7.5" fill="#6a4a1c" stroke="#fff" stroke-width="3"/>'
            f'<circle cx="26" cy="11" r="9.5" stroke="{INK}" stroke-width="1.5"/>'
        )
    if key == "craft":
        return (
            f'<path d="M48 3L16 11L48 19" stroke="{INK}" stroke-width="2"/>'
            f'<path d="M5 19L14 3L23 19Z" fill="#fff" stroke="{INK}" stroke-width="2"/>'
        )
    if key == "call":
        return (
            f'<path d="M8 1H36L44 10L36 19H8Z" fill="{INK}"/><path d="M8 1V22" stroke="{INK}" '
            'stroke-width="2"/><text x="24" y="15" fill="#fff" text-anchor="middle" font-size="13" '
            'font-weight="700">A!1</text>'
        )
    if key == "start":
        return (
            f'<circle cx="26" cy="11" r="10" fill="{INK}"/><text x="26" y="16" fill="#fff" '
            'text-anchor="middle" font-size="13" font-weight="700">A</text>'
        )
    if key == "pin":
        return (
            f'<rect x="2" y="1" width="48" height="20" rx="3" fill="#fff" stroke="{INK}" '
            'stroke-width="2"/><rect x="3" y="2" width="17" height="18" fill="#b3184f"/>'
            '<path d="M7 7l8 8m0 -8l-8 8" stroke="#fff" stroke-width="2.5"/>'
            f'<text x="35" y="16" fill="{INK}" text-anchor="middle" font-size="13" '
            'font-weight="700">A·1</text>'
        )
    if key == "launch":
        return (
            f'<rect x="17" y="2" width="18" height="18" fill="#fff" stroke="{INK}" '
            f'stroke-width="2.5"/><circle cx="26" cy="11" r="3.5" fill="{INK}"/>'
        )
    fill = "#fff" if key == "stand" else "#a9a49a"
    return f'<path d="{_DIAMOND}" fill="{fill}" stroke="{INK}" stroke-width="2"/>'
