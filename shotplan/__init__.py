"""Plan how a camera aircraft may follow your ride, and what keeps it from doing so safely.

    import shotplan as sp

    outing = sp.read("home-hill")                   # a site folder, as README.md describes it
    plan = sp.make(outing, rides=300, progress=print)
    print(plan)                                     # a word for each shot, and what decides it
    shot = plan["beside me"]
    shot.verdict                                    # go < caution < unknown < no-go
    shot.finding("clearance").margin                # metres to spare; None: not known, or nothing
    shot.track.xyz_m[0]                             # (n, 3) where it flies, in the site's frame
    nearer = sp.make(outing.with_shot("beside me", distance_m=8.0))
    sp.write(plan, "out", only=["map.html", "report.json"])

- `read(folder) -> Outing`: everything a folder says; `BadInput` lists all that is wrong with it
- `Outing.with_shot(name, **keys) -> Outing`: the same with other keys for one shot
- `make(outing, progress, rides=None) -> Plan`: every shot flown over many rides, and judged
- `mend(plan) -> Plan`: the same with the nearest changes that work for each shot that is not go,
  every one of them flown (`shot.mended.changes`)
- `Plan`, its shots by name or in a row, their findings by the id of a check; `Verdict`
- `write(plan, folder, only=()) -> names`: report, map and pictures
- `styles(outing)`: which style is safe on which stretch, and a way through
- `spots(outing)`: where to launch, stand and watch from
- `light(outing, first, days)`: when the light is good

Lengths are metres, angles radians, times seconds; NaN is unknown, +inf does not apply. The
docstring of each says more. Nothing here says that a flight is allowed or without danger.

Each name is fetched when it is first asked for, so that importing this costs nothing.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from shotplan.advice.mend import mended as mend
    from shotplan.advice.when import light_of as light
    from shotplan.advice.where_to_stand import where_to_stand as spots
    from shotplan.advice.which_style import which_style as styles
    from shotplan.errors import BadInput
    from shotplan.judging.judged import Plan
    from shotplan.model.verdict import Verdict
    from shotplan.outing import Outing, read
    from shotplan.output import write
    from shotplan.plan import make

__version__ = "0.1.0"
__all__ = [
    "BadInput", "Outing", "Plan", "Verdict", "light", "make", "mend", "read", "spots", "styles",
    "write",
]  # fmt: skip

_HOMES = {
    "BadInput": "errors:BadInput",
    "Outing": "outing:Outing",
    "Plan": "judging.judged:Plan",
    "Verdict": "model.verdict:Verdict",
    "light": "advice.when:light_of",
    "make": "plan:make",
    "mend": "advice.mend:mended",
    "read": "outing:read",
    "spots": "advice.where_to_stand:where_to_stand",
    "styles": "advice.which_style:which_style",
    "write": "output:write",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'shotplan' has no attribute {name!r}")
    module, _, own = _HOMES[name].partition(":")
    return getattr(import_module(f"shotplan.{module}"), own)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


class _Face(ModuleType):
    """Keeps `shotplan.styles` the function: importing the room of that name would hide it."""

    def __setattr__(self, name: str, value: object) -> None:
        if name not in _HOMES or not isinstance(value, ModuleType):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Face
