"""Aircraft classes (data in `classes/`) and their loader.

A new class is one TOML file in `classes/`, named like its `name`; nothing else is edited.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from shotplan.aircraft.schema import AircraftTable
from shotplan.errors import Problems
from shotplan.files.bundled import aircraft_files, named_file
from shotplan.files.tables import laid_over, read_toml, table
from shotplan.files.words import listed, printable, shown
from shotplan.model.aircraft import Aircraft


def load(
    raw: Mapping[str, object], folder: Path, where: str, problems: Problems
) -> Aircraft | None:
    """The aircraft an `[aircraft]` table describes (`where` e.g. "site.toml: [aircraft]").

    `class` is a bundled id or the path of an aircraft TOML, relative to `folder`; every other key
    overrides it, in whatever unit either is. `[aircraft.camera]` key by key, `senses` as a whole.
    """
    name = raw.get("class")
    if name is None:
        classes = listed(aircraft_files())
        problems.add(
            where, f"no aircraft is named; write [aircraft] class = one of {classes}, or a path"
        )
        return None
    if not isinstance(name, str) or not name:
        problems.add(f"{where}: class", f"got {shown(name)}; wanted a bundled class or a path")
        return None
    path = named_file(name, aircraft_files(), folder, f"{where}: class", problems)
    base = path and read_toml(path, problems, printable(name))
    if not base or table(AircraftTable, base, printable(name), problems) is None:
        return None
    own = {k: v for k, v in raw.items() if k != "class"}
    whole = table(AircraftTable, laid_over(base, own), where, problems)
    return whole.made() if whole else None


def read_class(name: str) -> Aircraft:
    """A bundled class by its id; KeyError where there is none."""
    path, problems = aircraft_files()[name], Problems()
    made = load({"class": name}, path.parent, path.name, problems)
    problems.raise_if_any()
    assert made is not None
    return made
