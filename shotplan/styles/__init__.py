"""The ways to follow: one file per style, listed in `STYLES`.

To add one: write a file here with a frozen, keyword-only dataclass whose fields are its TOML keys
(types with their limits from `files.tables`), a subclass of `model.flight.Style`, with

- `name`, as written in `style = "..."`, and `flies`, how it flies in a few words for the brief,
- `place(ride, stage) -> Wish`: set points for every ride and sample, as if there were no delay,
- `words() -> str`: one plain line for people,
- `settings() -> tuple[Setting, ...]`: what is set before it flies, as the card tells it, and what a
  larger number does, by which easier versions and cures are found,
- `candidates(search) -> Iterable[Style]`: what a search tries of it; one that is of one moment is
  a subclass of `OneMoment` instead, which has none,

and, where it is not as `Style` has it, the `places()` it names, `which()` side it is of,
`later(t_s)` where it has got to by then, and what else `Style` lists; `__post_init__` raising
`ValueError` in plain words for what the types cannot say. Then add its class to the tuple below: a
search tries them in this order. No style imports another: what two of them need is in
`kernels/motion/setpoints.py`. The tests run over the tuple, and fail while a file is not listed.
"""

from __future__ import annotations

from shotplan.model.flight import Style
from shotplan.styles.fly_by import FlyBy
from shotplan.styles.follow_behind import FollowBehind
from shotplan.styles.hold import Hold
from shotplan.styles.lead import Lead
from shotplan.styles.orbit import Orbit
from shotplan.styles.pull_back import PullBack
from shotplan.styles.rise import Rise
from shotplan.styles.side_track import SideTrack
from shotplan.styles.top_down import TopDown

STYLES: tuple[type[Style], ...] = (
    FollowBehind, Lead, SideTrack, PullBack, TopDown, Orbit, FlyBy, Hold, Rise,
)  # fmt: skip


def listed() -> dict[str, type[Style]]:
    """Each by its name, in order."""
    return {style.name: style for style in STYLES}
