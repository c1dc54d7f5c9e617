"""The panel under the map: a shot is picked and dragged or played along its undisturbed track.

The skeleton holds fixed words only; `slider.js` fills it from the page's JSON block.
"""

from __future__ import annotations

from shotplan.output.map.page import Panel, own

LOOKS = ("rider", "craft")  # in the legend
ROWS = (
    ("when", "when"),
    ("display", "height"),
    ("rider", "rider"),
    ("seen", "in sight"),
    ("nearest", "nearest"),
    ("binds", "binds"),
)


def panel() -> Panel:
    """Its place in the page and its script."""
    rows = "".join(f'<div><dt>{says}</dt><dd id="moment-{key}"></dd></div>\n' for key, says in ROWS)
    html = (
        '<div id="moment" role="group" aria-label="a shot moment by moment">\n'
        '<div id="moment-bar">\n<b id="moment-whose"></b>\n'
        '<button type="button" id="moment-play" aria-label="play">▶</button>\n'
        '<div id="moment-line"><div id="moment-strip" aria-hidden="true"></div>\n'
        '<input type="range" id="moment-at" min="0" max="1" step="0.1" value="0" '
        'aria-label="moment of the shot, in seconds"></div>\n'
        '<button type="button" id="moment-fast" aria-label="how fast it plays">×1</button>\n'
        "</div>\n"
        '<p id="moment-hint">Drag, play, or use the arrow keys: rider and aircraft move along the '
        "undisturbed flight; the two lines are the edges of what the camera shows.</p>\n"
        f'<dl id="moment-words" hidden>\n{rows}</dl>\n</div>\n'
    )
    return Panel(html, own("slider.js"))
