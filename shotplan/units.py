"""Units: SI and radians inside; other units only at the door.

A key ending in `_m`, `_m_s` or `_kg` may be given with another suffix; `SUFFIXES` says which
and by what to multiply. Factors: international foot, statute and nautical mile, avoirdupois
pound (all exact by definition, ISO 80000 / NIST SP 811).
"""

from __future__ import annotations

GRAVITY_M_S2 = 9.80665
FOOT_M = 0.3048
MILE_M = 1609.344
NAUTICAL_MILE_M = 1852.0
POUND_KG = 0.45359237
KMH_M_S = 1000.0 / 3600.0
MPH_M_S = MILE_M / 3600.0
KNOT_M_S = NAUTICAL_MILE_M / 3600.0

SUFFIXES: dict[str, dict[str, float]] = {
    "_m_s": {"_km_h": KMH_M_S, "_mph": MPH_M_S, "_kn": KNOT_M_S},
    "_m": {"_ft": FOOT_M},
    "_kg": {"_lb": POUND_KG},
}


def other_spellings(key: str) -> dict[str, float]:
    """Other names a key may be given under, each with the factor to the key's own unit.

    `height_m` -> `{"height_ft": 0.3048}`; a key without a convertible unit -> `{}`.
    """
    for suffix, others in SUFFIXES.items():
        if key.endswith(suffix):
            stem = key[: -len(suffix)]
            return {stem + other: factor for other, factor in others.items()}
    return {}
