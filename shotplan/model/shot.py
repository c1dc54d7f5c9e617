"""A shot wanted."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from shotplan.model.day import Stands
from shotplan.model.flight import Style

LinkLost = Literal["home", "hover", "land"]


@dataclass(frozen=True, kw_only=True)
class Shot:
    """`from_m`, `to_m`: the part of the (cropped) ride it films."""

    name: str
    style: Style
    from_m: float
    to_m: float
    takes: int = 1
    stands: Stands = field(default_factory=Stands)
    link_lost: LinkLost = "home"
