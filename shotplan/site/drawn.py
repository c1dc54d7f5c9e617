"""What is drawn on the ground, as its file has it."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from shotplan.errors import Problems
from shotplan.files.geojson import read_collection
from shotplan.files.together import unfinished
from shotplan.model.site import Origin
from shotplan.site.roles import Drawn, read_features
from shotplan.site.sources import sources_of
from shotplan.site.tables import SiteTable


class Ground(NamedTuple):
    """What is drawn; the places' ids, sound or not (None where the file cannot be read: then nobody
    knows); where it comes from; what is to be said of the file."""

    drawn: tuple[Drawn, ...] = ()
    places: list[str] | None = None
    sources: tuple[Origin, ...] = ()
    remarks: tuple[str, ...] = ()


def drawn_in(folder: Path, name: str, problems: Problems, draft: Path | None = None) -> Ground:
    """The file `name` of a site folder (or a `draft` of it); nothing where there is none and none
    is named."""
    half = unfinished(folder)
    path = draft or folder / name
    if name == SiteTable.ground and not path.exists():
        said = f"there is no {name}: nothing is drawn, nothing surveyed"
        return Ground(places=[], remarks=(said, *half))
    found = read_collection(path, name, problems)
    if found is None:
        return Ground()
    places = [f.id for f in found.features if f.properties.get("role") == "place"]
    sources = sources_of(found.sources, name, problems)
    return Ground(read_features(found.features, name, problems), places, sources, half)
