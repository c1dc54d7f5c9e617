"""One person's page for the phone: the same words as on paper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from html import escape

from shotplan.output.brief import signs
from shotplan.output.brief.person import Page
from shotplan.output.brief.stand import Stand
from shotplan.output.html import picture


def html(page: Page, index: int, pictures: Mapping[str, bytes]) -> str:
    """A section; `pictures` those of `drawn`, `index` which page it is."""
    chips = "".join(f'<span class="{"mine" if c.mine else "chip"}">{escape(c.text)}</span> '
                    for c in page.chips)  # fmt: skip
    sees = pictures.get(f"sees-{index}.png")
    seen = "What they see; it is told below."
    drawn = "" if sees is None else f'<div class="wide">{_image(sees, seen)}</div>'
    told = f"<p><b>{escape(page.sees)}</b></p>\n" if page.sees and drawn else ""
    return (
        f'<section class="person" id="person-{index}">\n<h2>{escape(page.name)} '
        f"<span>{escape(page.roles)}</span></h2>\n"
        f'<p>{chips}<span class="off">{escape(page.off)}</span></p>\n'
        f"{_row(page.here, ''.join(_here(page)))}"
        f"{_image(pictures[f'you-{index}.png'], 'A map of what is told above.')}{told}{drawn}"
        f"{''.join(_rows(page))}"
        f'<p class="small">{escape(page.foot)}</p>\n</section>\n'
    )


def _here(page: Page) -> Iterator[str]:
    for one in page.stands:
        yield from _stand(one)
    yield from (f"<p>{escape(note)}</p>" for note in page.notes)


def _stand(one: Stand) -> Iterator[str]:
    yield f"<p><b>{escape(one.title)}</b></p>"
    yield from (f"<p>{escape(text)}</p>" for text in (one.way, one.view) if text)
    if one.degrees:
        yield f"<p><b>{escape(one.degrees)}</b><br>{escape(one.grid)}</p>"


def _rows(page: Page) -> Iterator[str]:
    watch = "".join(f"<p><b>{escape(lead)}</b> {escape(text)}</p>" for lead, text in page.watch)
    yield _row(page.does, watch)
    if page.calls:
        calls = "".join(
            f'<p class="call"><span class="{"any" if c.code == "any" else "flag"}">'
            f"{escape(c.code)}</span> <span>{escape(c.text)}</span> <b>{escape(c.says)}</b></p>"
            for c in page.calls
        )
        more = f'<p class="off">more on the card: {escape(page.left)}</p>' if page.left else ""
        yield _row(page.calling, calls + more)
    if page.signs:
        yield f'<div class="signs">{"".join(_signs(page.signs))}</div>\n'
    yield _row("Never", escape(page.never))
    yield _row("We stop", "".join(f"<p><b>{k}</b> {escape(text)}</p>"
                                  for k, text in enumerate(page.stop, start=1)))  # fmt: skip
    yield _row("By itself", escape(page.alone))
    yield _row("A walker", escape(page.walker))


def _signs(every: Iterable[tuple[int, str, str]]) -> Iterator[str]:
    for index, word, does in every:
        yield f"<div>{signs.svg(index)}<b>{escape(word)}</b><br>{escape(does)}</div>"


def _row(title: str, inner: str) -> str:
    return f'<div class="line"><h3>{escape(title)}</h3><div>{inner}</div></div>\n'


def _image(png: bytes, says: str) -> str:
    return f'<img src="{picture(png)}" alt="{says}">\n'
