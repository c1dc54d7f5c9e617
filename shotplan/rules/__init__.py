"""Rule packs (data in `packs/`) and their loader: reminders with sources, never a clearance.

A new pack is one TOML file in `packs/`, named like its `id`; nothing else is edited. Every number
has its document, clause, the day it was read and how it is known.
"""

from __future__ import annotations

from pathlib import Path

from shotplan.errors import Problems
from shotplan.files.bundled import named_file, pack_files
from shotplan.files.tables import nearest_name, read_toml, table
from shotplan.files.words import listed, printable, shown
from shotplan.model.rules import Rules
from shotplan.rules.own import tightened
from shotplan.rules.own_tables import OwnPackTable
from shotplan.rules.schema import PackTable


def load(id_or_path: str, folder: Path, where: str, problems: Problems) -> Rules | None:
    """The pack a site names: a bundled id, or the path (relative to `folder`) of an own pack, a
    TOML with `base` and only what it tightens."""
    path = named_file(id_or_path, pack_files(), folder, where, problems)
    if path is None:
        return None
    if id_or_path in pack_files():
        return _bundled(id_or_path)
    name = printable(id_or_path)
    raw = read_toml(path, problems, name)
    if raw is None:
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
