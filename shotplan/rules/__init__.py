"""Rule packs (data in `packs/`) and their loader: reminders with sources, never a clearance.

A new pack is one TOML file in `packs/`, named like its `id`; nothing else is edited. Every number
has its document, clause, the day it was read and how it is known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from shotplan.errors import Problems
from shotplan.files.bundled import named_file, pack_files
from shotplan.files.tables import nearest_name, read_toml, table
from shotplan.files.words import listed, printable, shown
from shotplan.model.rules import OWN, Rules
from shotplan.rules.own import tightened
from shotplan.rules.own_tables import OwnPackTable
from shotplan.rules.schema import PackTable


def load(id_or_path: str, folder: Path, where: str, problems: Problems) -> Rules | None:
    """The pack a site names: a bundled id, or the path (relative to `folder`) of an own pack: a
    TOML with `base` and only what it tightens, or one that says everything and stands alone."""
    path = named_file(id_or_path, pack_files(), folder, where, problems)
    if path is None:
        return None
    if id_or_path in pack_files():
        return _bundled(id_or_path)
    name = printable(id_or_path)
    raw = read_toml(path, problems, name)
    if raw is None:
        return None
    return (
        _alone(raw, name, problems)
        if "height" in raw and "base" not in raw
        else _over_base(raw, name, problems)
    )


def _alone(raw: Mapping[str, Any], name: str, problems: Problems) -> Rules | None:
    """An own pack that stands alone: a bundled one's keys, each number with its source."""
    pack = table(PackTable, raw, name, problems)
    if pack is None:
        return None
    if pack.id in pack_files():
        problems.add(
            f"{name}: id", f"got {shown(pack.id)}, a bundled pack's; wanted one of its own"
        )
        return None
    if not pack.countries:
        problems.add(
            f"{name}: countries", 'there is none; wanted the country it is for, like ["IE"]'
        )
        return None
    return replace(pack.made(), own=True, title=f"{OWN}: {pack.title}")


def _over_base(raw: Mapping[str, Any], name: str, problems: Problems) -> Rules | None:
    """An own pack laid over the bundled one it tightens."""
    if "base" not in raw:
        problems.add(
            f"{name}: base",
            "is missing; wanted the bundled pack that this one makes stricter, or, for a pack that "
            "stands alone, all that `shotplan rules us-recreational --toml` says, for your country",
        )
        return None
    own = table(OwnPackTable, raw, name, problems)
    if own is None:
        return None
    if own.base not in pack_files():
        near = nearest_name(own.base, pack_files())
        wanted = listed(pack_files())
        problems.add(f"{name}: base", f"got {shown(own.base)}; wanted {wanted}{near}")
        return None
    loose = Problems()
    made = tightened(_bundled(own.base), own, name, loose)
    for problem in loose.found:
        problems.add(problem.where, problem.what)
    return None if loose.found else made


def packs() -> dict[str, Rules]:
    """Every bundled pack by id."""
    return {name: _bundled(name) for name in pack_files()}


def _bundled(name: str) -> Rules:
    problems = Problems()
    raw = read_toml(pack_files()[name], problems, f"{name}.toml")
    pack = table(PackTable, raw, f"{name}.toml", problems) if raw is not None else None
    problems.raise_if_any()
    assert pack is not None
    return pack.made()


def elsewhere(country: str, pack: Rules, where: str) -> tuple[str, ...]:
    """A remark where the site's country is not one of the pack's, or was not said."""
    if not country:
        return (
            f"{where} names no country: whether {pack.id} is the rule pack of the place was "
            "not checked",
        )
    said = pack.elsewhere(country)
    return (said,) if said else ()
