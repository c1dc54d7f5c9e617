"""Whom every map credits for the public surveys it is made from."""

from __future__ import annotations

from shotplan.model.site import Site
from shotplan.output.words import plain

LONGEST = 300


def line(site: Site) -> str:
    """`© OpenStreetMap contributors; a surveyor, licence`; "" where nothing is public. Text from
    a file: plain, and no longer than a few lines."""
    told = "; ".join(" ".join(plain(one).split()) for one in site.credits)
    return told if len(told) <= LONGEST else f"{told[: LONGEST - 1]}…"
