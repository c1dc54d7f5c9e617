"""Where words are cut: against trying every end, longest first."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from shotplan.output.lettering import SHORTEST, cut, wide, writable

LETTERS = "iilmW.,; -AVTo'jf"


@given(st.text(LETTERS, min_size=1, max_size=60), st.floats(5.0, 250.0), st.booleans())
def test_as_much_is_kept_as_has_room(text: str, room: float, bold: bool) -> None:
    kept = cut(text, room, bold=bold)
    if wide(text, bold=bold) <= room:
        assert kept == text
        return
    ends = (f"{text[:end].rstrip()}…" for end in range(len(text) - 1, SHORTEST - 1, -1))
    assert kept == next((some for some in ends if wide(some, bold=bold) <= room), "")


def test_direction_marks_and_control_characters_are_written_as_on_the_terminal() -> None:
    for sign in "\u202e\u2066\u200f\x1b\x07\n":
        assert writable(f"a{sign}b") == "a·b"
        assert wide(f"a{sign}b") == wide("a·b")
