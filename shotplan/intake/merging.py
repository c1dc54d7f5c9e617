"""What a survey found laid among what somebody drew: a second reading replaces its own features,
and nothing else.

Of each feature it wrote, `add` remembers a digest of what it says. A feature that still says the
same is the survey's own; one that says something else was changed by hand, and stays. A feature
whose id merely begins like one of the survey's is the person's.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from shotplan.files.geojson_kept import Piece, id_of, piece
from shotplan.files.words import printable
from shotplan.intake.found import Found

Known = Mapping[str, frozenset[str]]  # id -> digests of what was written under it
SOME = 3
DECIMALS = 7  # of a degree: a centimetre


class Merged(NamedTuple):
    """All features in their order, what is remembered of the survey's, and what was done."""

    features: tuple[Piece, ...]
    known: Known
    said: tuple[str, ...]


def digest(feature: Mapping[str, Any]) -> str:
    """What a feature says, in 16 signs; the same however its text is laid out."""
    properties = dict(feature.get("properties") or {})
    properties.pop("id", None)
    said = {k: v for k, v in properties.items() if v is not None}
    geometry = feature.get("geometry") or {}
    told = [id_of(feature), _even(said), geometry.get("type"), _even(geometry.get("coordinates"))]
    text = json.dumps(told, sort_keys=True)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]


def merged(old: Sequence[Piece], found: Found, known: Known) -> Merged:
    """`found` among the `old` features; `known` of all surveys."""
    head = f"{found.source}-"
    new = {id_of(f): f for f in found.features}
    digests = {id_: digest(f) for id_, f in new.items()}
    own = [p for p in old if p.of(found.source)]
    now = {p.id: digest(p.value) for p in own}
    ours = {i for i, d in now.items() if d in known.get(i, ()) or d == digests.get(i)}
    if not new and ours:
        return Merged(tuple(old), known, (f"what an earlier {found.source} found stays",))
    stays = [p for p in old if p.id not in ours]
    taken = {p.id for p in stays}
    changed = [i for i in now if i not in ours and i in known]
    pieces, moved = [], []
    remembered = {i: known[i] for i in changed}
    for id_, feature in new.items():
        if id_ in taken and digests[id_] in known.get(id_, ()):
            continue  # what the person made of it stands for it
        name = _free(id_, taken | new.keys()) if id_ in taken else id_
        if name != id_:
            moved.append(name)
        taken.add(name)
        written = piece(named(feature, name))
        pieces.append(written)
        here = {now[name]} if name in ours else set()
        remembered[name] = frozenset({digest(written.value)} | here)
    back = [i for i in known if i in new and i not in now]
    said = _said(found.source, changed, [i for i in now if i not in ours and i not in known],
                 moved, back)  # fmt: skip
    others = {i: d for i, d in known.items() if not i.startswith(head)}
    at = _place(old, ours)
    return Merged((*stays[:at], *pieces, *stays[at:]), {**others, **remembered}, said)


def _place(old: Sequence[Piece], ours: set[str]) -> int:
    """Where the first of the older ones stood, among those that stay; else the end."""
    staying = 0
    for one in old:
        if one.id in ours:
            break
        staying += 1
    return staying


def _said(
    source: str, changed: list[str], own: list[str], moved: list[str], back: list[str]
) -> tuple[str, ...]:
    told = (
        (changed, "kept as you changed it by hand: {}"),
        (own, f"kept as your own, though it is called like {source}'s: {{}}"),
        (moved, "another thing now has that name, and got one of its own: {}"),
        (back, "you took it away, and it was found again: {}"),
    )
    return tuple(text.format(some(ids)) for ids, text in told if ids)


def some(names: Iterable[str]) -> str:
    """The first of them, and how many more."""
    every = sorted(names)
    more = f" and {len(every) - SOME} more" if len(every) > SOME else ""
    return ", ".join(printable(n) for n in every[:SOME]) + more


def named(feature: Mapping[str, Any], name: str) -> dict[str, Any]:
    """The feature under another id."""
    properties = {**feature["properties"], "id": name}
    return {**{k: v for k, v in feature.items() if k != "id"}, "properties": properties}


def _free(id_: str, taken: set[str]) -> str:
    number = 2
    while f"{id_}-{number}" in taken:
        number += 1
    return f"{id_}-{number}"


def _even(value: Any) -> Any:
    """Numbers alike however they are written: 5 as 5.0, degrees to a centimetre."""
    if isinstance(value, Mapping):
        return {k: _even(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_even(v) for v in value]
    if isinstance(value, int | float) and not isinstance(value, bool):
        return round(float(value), DECIMALS)
    return value


def known_of(raw: object) -> Known:
    """What was remembered, as `remembered_text` writes it; what cannot be read is forgotten, so
    that nothing is taken for ours that is not."""
    said = raw.get("features") if isinstance(raw, Mapping) else None
    if not isinstance(said, Mapping):
        return {}
    return {
        str(i): frozenset(str(d) for d in digests)
        for i, digests in said.items()
        if isinstance(digests, list)
    }
