"""The ways to follow: one file per style, listed in `STYLES`.

To add one: write a file here with a frozen, keyword-only dataclass whose fields are its TOML keys
(types with their limits from `files.tables`), with

- `name: ClassVar[str]`, as written in `style = "..."`,
- `place(ride, stage) -> Wish`: set points for every ride and sample, as if there were no delay,
- `places() -> tuple[str, ...]`: ids of the places it needs,
- `words() -> str`: one plain line for people,

and `__post_init__` raising `ValueError` in plain words for what the types cannot say; then add its
class to the tuple below. No style imports another: what two of them need is in
`kernels/setpoints.py`. The tests run over the tuple, and fail while a file is not listed.
"""

from __future__ import annotations

from shotplan.styles.fly_by import FlyBy
from shotplan.styles.follow_behind import FollowBehind
from shotplan.styles.hold import Hold
from shotplan.styles.lead import Lead
from shotplan.styles.orbit import Orbit
from shotplan.styles.pull_back import PullBack
from shotplan.styles.rise import Rise
from shotplan.styles.side_track import SideTrack
from shotplan.styles.top_down import TopDown

STYLES = (FollowBehind, Lead, SideTrack, PullBack, Orbit, TopDown, FlyBy, Hold, Rise)
