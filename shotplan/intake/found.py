"""What a public survey knows of the place, whichever file it came in.

Every reader of surveys (`lidar`, `canopy`, `osm`, `zones`) answers with one `Found`; `add` lays it
into a site folder. What a source brought is known by the ids of its features, which begin with its
word and a hyphen: so a second reading replaces its own and touches nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Found:
    """`source`: the word its ids begin with (`lidar`: `lidar-tree-0012`).

    `features`: GeoJSON features as ground.geojson holds them, WGS 84, each with `properties.id` and
    `properties.role`, errors and `on` where they are known. `files`: name in the site folder ->
    content (a terrain). `keys`: of site.toml, at its top (`{"terrain": "lidar-terrain.tif"}`).
    `credit`: the line that stands on every map made from it. `on`: the day it was looked at; None
    where the file does not say. `said`: what the person reads of it, a sentence each.
    """

    source: str
    features: tuple[Mapping[str, Any], ...] = ()
    files: Mapping[str, bytes] = field(default_factory=dict)
    keys: Mapping[str, Any] = field(default_factory=dict)
    credit: str = ""
    on: date | None = None
    said: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """`ValueError` where an id does not begin with the source's word."""
        strays = [f["properties"]["id"] for f in self.features
                  if not str(f["properties"]["id"]).startswith(f"{self.source}-")]  # fmt: skip
        if strays:
            raise ValueError(f"ids of {self.source} begin with {self.source}-; got {strays[:3]}")
