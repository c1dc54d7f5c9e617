"""What a folder names lies in it: one that was sent to somebody must not read their other files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from shotplan.errors import Problem, Problems
from shotplan.files.words import shown
from shotplan.site.tables import SiteFile


def outside_of(said: SiteFile, folder: Path, where: str) -> list[Problem]:
    """A problem for every file that lies, links followed, outside the folder."""
    problems, root = Problems(), folder.resolve()
    for key, name in (*_named(said), *_beside(said, folder).items()):
        try:
            inside = (folder / name).resolve().is_relative_to(root)
        except (OSError, ValueError, RuntimeError):  # no name a file can have, a loop of links
            continue
        if not inside:
            problems.add(
                f"{where}: {key}",
                f"{shown(name)} lies outside the folder: copy it in, or, where the folder is your "
                "own, say --allow-outside",
            )
    return problems.found


def _named(said: SiteFile) -> list[tuple[str, str]]:
    """Every name of a file that site.toml may give, after its key."""
    site, craft = said.site, said.aircraft.get("class")
    found = [("[aircraft] class", craft)] if isinstance(craft, str) else []
    if site:
        found += [("ground", site.ground), ("rules", site.rules)]
        found += [("terrain", site.terrain), ("surroundings", site.surroundings)]
    if said.ride:
        paths = (said.ride.path,) if isinstance(said.ride.path, str) else said.ride.path
        found += [("[ride] path", name) for name in paths]
    return [(key, name) for key, name in found if name]


def _beside(said: SiteFile, folder: Path) -> Mapping[str, str]:
    """What is read unnamed, beside a raster, where it is a link."""
    rasters = (said.site.terrain, said.site.surroundings) if said.site else ()
    paths = (Path(name).with_suffix(end) for name in rasters if Path(name).name
             for end in (".prj", ".PRJ"))  # fmt: skip
    return {f"beside {p.stem}": str(p) for p in paths if (folder / p).is_symlink()}
