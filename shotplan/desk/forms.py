"""What the page asks of each thing and of each style, in words people use, with the unit.

A field: `key` as the file has it, what it is called, its unit, how it is asked (`number`, `text`,
`date`, `choice`, `many`, `place`, `person`), what a new thing begins with, and its choices.
"""

from __future__ import annotations

from dataclasses import MISSING, fields
from typing import Any, Literal, cast, get_args, get_origin, get_type_hints

from shotplan.model.site import Kind
from shotplan.styles import STYLES

Field = dict[str, Any]


def _field(key: str, label: str, unit: str = "", how: str = "number", **more: Any) -> Field:
    return {"key": key, "label": label, "unit": unit, "how": how, **more}


HEIGHT = _field("height_m", "height", "m", least=0.1)
OFF = _field("error_m", "may be off by", "m", least=0.0)
TALL_OFF = _field("height_error_m", "height off by", "m", least=0.0)
SEEN = _field("on", "seen on", "", "date")
NAME = _field("name", "name", "", "text")
LAST = [OFF, NAME, SEEN]
BASE = _field("base_m", "crown begins at", "m up", least=0.0)
KINDS = list(get_args(Kind))

# role: its word, the key that picks its tool, how it is drawn, what a new one says, its fields.
FORMS: dict[str, dict[str, Any]] = {
    "tree": {
        "word": "tree", "tool": "T", "drawn": "point", "new": {"height_m": 8.0, "radius_m": 2.0},
        "fields": [HEIGHT, _field("radius_m", "crown reaches", "m", least=0.1), BASE,
                   _field("trunk_radius_m", "trunk, half its width", "m", least=0.01), TALL_OFF,
                   *LAST],
    },
    "wood": {
        "word": "wood", "tool": "W", "drawn": "area", "new": {"height_m": 12.0},
        "fields": [HEIGHT, BASE, TALL_OFF, *LAST],
    },
    "pole": {
        "word": "pole", "tool": "P", "drawn": "point", "new": {"height_m": 8.0},
        "fields": [HEIGHT, _field("radius_m", "half its width", "m", least=0.01), TALL_OFF, *LAST],
    },
    "wire": {
        "word": "wire", "tool": "L", "drawn": "line", "new": {"height_m": 8.0},
        "fields": [HEIGHT, _field("sag_m", "sags by", "m", least=0.0),
                   _field("kind", "kind", "", "choice", choices=["local", "transmission"]),
                   TALL_OFF, *LAST],
    },
    "building": {
        "word": "building", "tool": "B", "drawn": "area", "new": {"height_m": 6.0},
        "fields": [HEIGHT, TALL_OFF, *LAST],
    },
    "people": {
        "word": "path, people", "tool": "F", "drawn": "line", "new": {},
        "fields": [_field("state", "others", "", "choice",
                          choices=["may-pass", "held", "closed"]),
                   _field("held_by", "held by", "", "person"), *LAST],
    },
    "keep-out": {
        "word": "keep-out", "tool": "K", "drawn": "area", "new": {},
        "fields": [_field("floor_m", "from", "m up"), _field("ceiling_m", "up to", "m up"),
                   _field("reason", "why", "", "text"), *LAST],
    },
    "wildlife": {
        "word": "wildlife", "tool": "N", "drawn": "area", "new": {},
        "fields": [_field("stand_off_m", "stay away", "m", least=0.0),
                   _field("from", "from (MM-DD)", "", "text"),
                   _field("to", "to (MM-DD)", "", "text"), *LAST],
    },
    "water": {
        "word": "water", "tool": "A", "drawn": "area", "new": {},
        "fields": [_field("level_m", "its level", "m above sea"), *LAST],
    },
    "place": {
        "word": "place", "tool": "O", "drawn": "point", "new": {},
        "fields": [_field("height_m", "what is aimed at", "m up", least=0.0), *LAST],
    },
    "boundary": {
        "word": "boundary", "tool": "G", "drawn": "area", "new": {}, "fields": [*LAST],
    },
    "surveyed": {
        "word": "looked at", "tool": "Y", "drawn": "area", "new": {},
        "fields": [_field("looked_for", "looked for", "", "many", choices=KINDS),
                   _field("least_height_m", "lower may be missing", "m", least=0.0), *LAST],
    },
    "ride": {"word": "ride line", "tool": "R", "drawn": "line", "new": {}, "fields": [*LAST]},
}  # fmt: skip
# Of a style's keys: its word, unit, and from where to where a slider goes.
NUMBERS: dict[str, tuple[str, str, float, float, float]] = {
    "distance_m": ("distance", "m", 2.0, 60.0, 0.5),
    "to_distance_m": ("distance at the end", "m", 2.0, 80.0, 0.5),
    "radius_m": ("radius", "m", 4.0, 60.0, 0.5),
    "height_m": ("height", "m", 0.0, 60.0, 0.5),
    "to_height_m": ("height at the end", "m", 0.0, 80.0, 0.5),
    "speed_m_s": ("speed", "m/s", 0.5, 12.0, 0.5),
    "start_deg": ("begins at", "° from north", 0.0, 359.0, 5.0),
}
SIDES = ("left", "right", "downhill", "uphill", "north", "east", "south", "west")
LABELS = {"side": "side", "height_over": "height over", "direction": "turns", "aim": "looks at",
          "around": "round", "at": "over"}  # fmt: skip
FIRST = {"side": "left", "distance_m": 10.0, "height_m": 6.0, "radius_m": 20.0, "speed_m_s": 4.0,
         "to_distance_m": 25.0, "to_height_m": 20.0, "around": "rider"}  # fmt: skip


def styles() -> list[dict[str, Any]]:
    """Every style: its name, word, how it flies, and its keys as fields."""
    return [
        {"name": one.name, "word": one.word or one.name, "flies": one.flies,
         "fields": _fields(one)}
        for one in STYLES
    ]  # fmt: skip


def _fields(style: Any) -> list[Field]:
    hints = get_type_hints(style, include_extras=True)
    found = []
    for one in fields(cast(Any, style)):
        needed = one.default is MISSING
        begins = FIRST.get(one.name) if needed else one.default
        more: Field = {"needed": needed, "begins": begins}
        if one.name in NUMBERS:
            label, unit, low, high, step = NUMBERS[one.name]
            more |= {"low": low, "high": high, "step": step}
            found.append(_field(one.name, label, unit, **more))
            continue
        label, hint = LABELS.get(one.name, one.name), hints[one.name]
        choices = [*get_args(hint)] if get_origin(hint) is Literal else []
        if one.name == "side" and not choices:
            choices = list(SIDES)
        if needed and one.name not in FIRST and choices:
            more["begins"] = choices[0]
        how = "choice" if choices else "place"
        found.append(_field(one.name, label, "", how, choices=choices, **more))
    return found
