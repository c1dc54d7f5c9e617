"""A change of a shot that was flown, and what was found where changes were sought."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from shotplan.model.verdict import Verdict


@dataclass(frozen=True, kw_only=True)
class Change:
    """`keys` as `[[shot]]` has them, laid over the shot; the `verdict` it then got over so many
    disturbed `rides` of that `seed`; `text`: what instead of what, and the word."""

    keys: Mapping[str, Any]
    verdict: Verdict
    rides: int
    seed: int
    text: str


@dataclass(frozen=True, kw_only=True)
class Mended:
    """`changes` of a shot, the best first; where there is none, what is `in_the_way` of all that
    was tried ("" nothing was sought)."""

    changes: tuple[Change, ...] = ()
    in_the_way: str = ""
