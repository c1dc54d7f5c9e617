"""The brief as one HTML page for the phone: no script, nothing from the network.

Plain string joining, no template: every word is escaped where it enters.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape

from shotplan.output.brief import person_page
from shotplan.output.brief.brief import Brief
from shotplan.output.brief.rows import Row, Section
from shotplan.output.brief.shots import Shot
from shotplan.output.html import head, picture
from shotplan.output.map.page import own


def html(said: Brief, pictures: Mapping[str, bytes]) -> str:
    """The whole page, `pictures` those of `brief.pictures`."""
    style = own("brief.css", "brief")
    shots = "".join(_shot(s, i, pictures) for i, s in enumerate(said.shots))
    people = "".join(person_page.html(p.page, k, pictures) for k, p in enumerate(said.people))
    links = "".join(
        f'<a href="#person-{k}">{escape(p.page.name)}</a> ' for k, p in enumerate(said.people)
    )
    links += '<a href="#all">everybody</a> '
    links += "".join(f'<a href="#shot-{i}">{escape(s.name)}</a> ' for i, s in enumerate(said.shots))
    credits = f'<p class="small">{escape(said.credits)}</p>\n' if said.credits else ""
    top = _picture(pictures["map.png"], "Map of the flights; the same is told in words.")
    return (
        f"{head(f'Brief: {said.site}', [style])}<body>\n"
        f"<h1>{escape(said.site)}</h1>\n<p>{escape(said.when)}</p>\n"
        f'<p class="word"><b>{escape(said.verdict)}</b> {escape(said.words)}</p>\n'
        f'<nav>{links}<a href="#back">the day, emergencies</a></nav>\n'
        f'{people}<div id="all"></div>\n{_sections(said.front, 2)}{top}'
        f'<p class="small">{escape(said.caption)}</p>\n{shots}<div id="back"></div>\n'
        f"{_sections((s for s in said.back if not s.fine), 2)}{_fine(said.back)}"
        f'{credits}<p class="small">Written by {escape(said.made)}.</p>\n</body>\n</html>\n'
    )


def _shot(shot: Shot, index: int, pictures: Mapping[str, bytes]) -> str:
    side = pictures.get(f"side-{index}.png")
    above = pictures.get(f"above-{index}.png")
    drawn = "" if side is None else _picture(side, "The shot from the side.")
    drawn += "" if above is None else _picture(above, "The shot from above, with its calls.")
    said = "".join(f"<p>{escape(s)}</p>\n" for s in shot.sentences)
    return (
        f'<h2 id="shot-{index}">{escape(shot.name)}</h2>\n<p class="word"><b>{escape(shot.word)}'
        f"</b></p>\n{said}{drawn}{_sections(shot.sections, 3)}"
    )


def _sections(sections: Iterable[Section], level: int) -> str:
    return "".join(
        f"<h{level}>{escape(s.title)}</h{level}>\n{''.join(_row(r) for r in s.rows)}"
        for s in sections
    )


def _fine(sections: Iterable[Section]) -> str:
    """What is read at home, folded."""
    return "".join(
        f'<details class="small"><summary>{escape(s.title)}</summary>\n'
        f"{''.join(_row(r) for r in s.rows)}</details>\n"
        for s in sections
        if s.fine
    )


def _row(row: Row) -> str:
    label = f"<b>{escape(row.label)}</b> " if row.label else ""
    blanks = "".join(f' {escape(c)} <span class="blank">&nbsp;</span>' for c in row.blanks)
    return f'<p class="row">{label}{escape(row.text)}{blanks}</p>\n'


def _picture(png: bytes, says: str) -> str:
    return f'<img src="{picture(png)}" alt="{says}">\n'
