"""What the page changed, laid over the texts it was given: a draft of both files."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from shotplan.desk.folder import MARK, Texts, drawn
from shotplan.errors import BadInput, Problem, Problems
from shotplan.files import geojson_edit, toml_edit
from shotplan.files.spelled import in_own_units
from shotplan.outing import SITE_FILE
from shotplan.output.words import plain

LISTS = ("shot", "crew")
_FEATURE = re.compile(r": feature (\d+)")
_SHOT = re.compile(r": \[\[shot\]\] (\d+)")


def opened(texts: Texts) -> dict[str, Any]:
    """What the page is given of the texts: features, shots, crew, ride; `BadInput` where one of
    them is no TOML, no FeatureCollection."""
    problems = Problems()
    features: list[dict[str, Any]] = []
    said: dict[str, Any] = {}
    try:
        said = tomllib.loads(texts.site.removeprefix(MARK))
    except ValueError as error:
        problems.add(SITE_FILE, f"is not TOML: {error}")
    try:
        features = geojson_edit.plain(drawn(texts))
    except (ValueError, TypeError, AttributeError, IndexError, RecursionError):
        problems.add(texts.ground_name, "cannot be drawn on: no FeatureCollection in sound JSON")
    problems.raise_if_any()
    ride = said.get("ride", {})
    return {
        "features": features,
        "ride": in_own_units(ride) if isinstance(ride, Mapping) else {},
        **{name: _listed(texts.site.removeprefix(MARK), name) for name in LISTS},
    }


def _listed(text: str, name: str) -> list[dict[str, Any]]:
    try:
        return toml_edit.plain(text, name)
    except (AttributeError, TypeError):
        return []


def edited(texts: Texts, changes: Mapping[str, Any]) -> Texts:
    """The texts with the changes of a page: `features` (id -> feature), `removed` ids, and where
    they changed the whole lists `shot` and `crew` and the table `ride`. `BadInput` where they
    cannot be laid over the texts, or are no changes at all."""
    problems = Problems()
    features, removed = changes.get("features", {}), changes.get("removed", [])
    lists = {name: changes[name] for name in LISTS if name in changes}
    tables = {"ride": changes["ride"]} if "ride" in changes else {}
    if not _sound(features, removed, lists, tables):
        problems.add("the page", "sent something else than changes of a site")
        problems.raise_if_any()
    ground, site = texts.ground, texts.site
    if features or removed:
        mark = MARK if ground.startswith(MARK) else ""
        ground = mark + geojson_edit.edited(drawn(texts), features, removed)
    if lists or tables:
        mark = MARK if site.startswith(MARK) else ""
        made = toml_edit.edited(site.removeprefix(MARK), lists, tables, SITE_FILE, problems)
        problems.raise_if_any()
        site = mark + (made or "")
    return Texts(site, ground, texts.ground_name)


def _sound(features: Any, removed: Any, lists: Mapping[str, Any], tables: Any) -> bool:
    """Whether the changes have the shape of changes; what they say is judged by reading."""
    if not isinstance(features, dict) or not isinstance(removed, list):
        return False
    for one in features.values():
        if not (isinstance(one, dict) and isinstance(one.get("properties"), dict)):
            return False
        if not isinstance(one.get("geometry"), dict):
            return False
    rows = [row for rows in lists.values() if isinstance(rows, list) for row in rows]
    held = all(isinstance(rows, list) for rows in lists.values())
    numbers = (row.get(toml_edit.WAS) for row in rows if isinstance(row, dict))
    return (
        held
        and all(isinstance(one, str) for one in removed)
        and all(isinstance(row, dict) for row in rows)
        and all(n is None or (type(n) is int and n >= 0) for n in numbers)
        and all(isinstance(table, dict) for table in tables.values())
    )


def said_of(bad: BadInput, texts: Texts) -> list[dict[str, Any]]:
    """Its problems, each with the `feature` (id) or the `shot` (number) it is about."""
    try:
        ids = [part.id for part in geojson_edit.parts(drawn(texts))]
    except ValueError:
        ids = []
    return [_about(problem, ids) for problem in bad.problems]


def _about(problem: Problem, ids: list[str]) -> dict[str, Any]:
    found: dict[str, Any] = {"where": plain(problem.where), "what": plain(problem.what)}
    feature, shot = _FEATURE.search(problem.where), _SHOT.search(problem.where)
    if feature and 0 < int(feature.group(1)) <= len(ids):
        found["feature"] = ids[int(feature.group(1)) - 1]
    if shot:
        found["shot"] = int(shot.group(1)) - 1
    return found
