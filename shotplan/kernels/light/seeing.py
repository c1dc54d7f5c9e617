"""How far a small aircraft is seen well enough to steer it by eye."""

from __future__ import annotations

VISIBILITY_CAP_M = 5000.0


def seen_by_size_m(span_m: float) -> float:
    """Greatest slant distance for a rotorcraft of this largest dimension: 327·span + 20 m.

    EASA Guidelines for UAS operations in the open and specific category, Issue 03, Part A ch. I;
    guidance, not law.
    """
    return 327.0 * span_m + 20.0


def seen_by_visibility_m(visibility_m: float) -> float:
    """0.3 of the ground visibility, which counts up to 5 km (same source)."""
    return 0.3 * min(visibility_m, VISIBILITY_CAP_M)
