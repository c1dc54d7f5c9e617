"""The arm signs as figures, drawn alike on paper and on the phone."""

from __future__ import annotations

WIDE, HIGH = 60, 84
_BODY = (
    '<circle cx="30" cy="24" r="6.5"/><path d="M30 33V54" stroke-width="12"/>'
    '<path d="M27.500 54L21 80M32.500 54L39 80" stroke-width="7"/>'
)
# Arms from the shoulders, in the order of `words.SIGNS`.
FIGURES = (
    "M24 34L13 26L40 5M36 34L47 26L20 5",  # crossed overhead
    "M24 36H1M36 36H59",  # straight out
    "M24 36L18 52L21 60M36 36L45 26V6",  # a fist straight up
    "M24 36L18 52L21 60M36 35L48 26L38 13H22",  # a hand flat on the head
    "M24 36L18 52L21 60M36 36L49 31L27 22",  # a hand over the eyes
    "M24 36L14 46L38 58M36 36L46 46L22 58",  # crossed low in front
    "M24 36L4 52M36 36L54 8",  # one points at it, one waves down
)


def svg(index: int) -> str:
    """The figure of a sign."""
    fist = '<circle cx="45" cy="6" r="4.500"/>' if index == 2 else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {HIGH}" width="{WIDE}" '
        f'height="{HIGH}"><g fill="#000" stroke="none">{fist}{_BODY.split("<path")[0]}</g>'
        '<g fill="none" stroke="#000" stroke-linecap="round" stroke-linejoin="round">'
        f"<path{_BODY.split('<path', 1)[1]}"
        f'<path d="{FIGURES[index]}" stroke-width="5.5"/></g></svg>'
    )


def pictures() -> dict[str, bytes]:
    """All of them, as files."""
    return {f"sign-{i}.svg": svg(i).encode("ascii") for i in range(len(FIGURES))}
