"""KML 2.2 (OGC 07-147r2), written: folders of placemarks with styles of their own.

Heights: a thing in the air has `altitudeMode` absolute, and its altitude is the elevation it was
given, in the terrain's own heights (KML means metres above sea level, EGM96: where the terrain
counts from another zero it is drawn that much too high or too low; the caller's words say so).
What lies on the ground is clamped to the viewer's ground. What stands on it is drawn relative to
the viewer's ground. One unknown height in a thing, and it is clamped as a whole.

Names are text. A description is read as HTML by viewers, though it is text in the file: so it is
escaped twice, and the `$[...]` that viewers replace is broken. Icons are never fetched from the
network: the plain file names none, the packed one (KMZ, annex C) carries them inside.
"""

from __future__ import annotations

import html
import io
import zipfile
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

from shotplan.files.placed import DIGITS, Folder, Placed, degrees, rounded, sound, uncrossed

NAMESPACE = "http://www.opengis.net/kml/2.2"
_CLAMPED, _ABSOLUTE, _RELATIVE = "clampToGround", "absolute", "relativeToGround"


class Style(NamedTuple):
    """Colours are `#rrggbb`; `fill` "" is none, `density` 0 to 1."""

    line: str
    width_px: float
    fill: str = ""
    density: float = 0.0


def write_kml(
    name: str,
    words: str,
    folders: Sequence[Folder],
    styles: Mapping[str, Style],
    icons: Collection[str] = (),
) -> bytes:
    """The document; `styles` by `kind`, a kind without one has the viewer's own; `icons` the kinds
    that have one beside it."""
    folders = uncrossed(folders)
    root = ET.Element("kml", xmlns=NAMESPACE)
    document = _feature(root, "Document", name, words)
    used = {thing.kind for folder in folders for thing in folder.things}
    for kind in sorted(used & set(styles)):
        _style(document, kind, styles[kind], icon=kind in icons)
    for folder in folders:
        inside = _feature(document, "Folder", folder.name, folder.words)
        for thing in folder.things:
            _placemark(inside, thing, styled=thing.kind in styles)
    ET.indent(root, space=" ")
    data: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return data + b"\n"


def write_kmz(
    name: str,
    words: str,
    folders: Sequence[Folder],
    styles: Mapping[str, Style],
    icons: Mapping[str, bytes],
) -> bytes:
    """The same packed with its icons (PNG by `kind`); no clock, so the same things are the same
    bytes."""
    files = {"doc.kml": write_kml(name, words, folders, styles, icons)}
    files |= {_inside(kind): data for kind, data in icons.items()}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for path, data in files.items():
            told = zipfile.ZipInfo(path, date_time=(1980, 1, 1, 0, 0, 0))
            told.compress_type, told.create_system = zipfile.ZIP_DEFLATED, 3
            packed.writestr(told, data)
    return out.getvalue()


def _inside(kind: str) -> str:
    return f"icons/{kind}.png"


def _feature(parent: ET.Element, tag: str, name: str, words: str) -> ET.Element:
    made = ET.SubElement(parent, tag)
    _text(made, "name", sound(name))
    if words:
        _text(made, "description", _html(words))
    return made


def _html(words: str) -> str:
    """Text as HTML that shows it."""
    lines = html.escape(sound(words)).replace("$[", "$&#91;").split("\n")
    return "<br/>".join(lines)


def _text(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(parent, tag).text = text


def _style(parent: ET.Element, kind: str, style: Style, *, icon: bool) -> None:
    made = ET.SubElement(parent, "Style", id=kind)
    mark = ET.SubElement(made, "IconStyle")
    if icon:  # drawn in its own colours
        _text(ET.SubElement(mark, "Icon"), "href", _inside(kind))
    else:
        _text(mark, "color", _colour(style.fill or style.line))
    line = ET.SubElement(made, "LineStyle")
    _text(line, "color", _colour(style.line))
    _text(line, "width", f"{style.width_px:g}")
    poly = ET.SubElement(made, "PolyStyle")
    _text(poly, "color", _colour(style.fill or style.line, style.density if style.fill else 0.0))


def _colour(rgb: str, density: float = 1.0) -> str:
    """`aabbggrr`, as KML has it, of `#rrggbb`."""
    return f"{round(255 * density):02x}{rgb[5:7]}{rgb[3:5]}{rgb[1:3]}".lower()


def _placemark(parent: ET.Element, thing: Placed, *, styled: bool) -> None:
    made = _feature(parent, "Placemark", thing.name, thing.words)
    if styled:
        _text(made, "styleUrl", f"#{thing.kind}")
    values = {k: rounded(v) for k, v in thing.values.items()}
    told = {k: v for k, v in values.items() if v is not None and not isinstance(v, list)}
    if told:
        extended = ET.SubElement(made, "ExtendedData")
        for key, value in told.items():
            _text(ET.SubElement(extended, "Data", name=key), "value", f"{value}")
    _geometry(made, thing)


def _geometry(parent: ET.Element, thing: Placed) -> None:
    mode = _mode(thing)
    z = thing.z_m if mode != _CLAMPED else ()
    made = ET.SubElement(
        parent, {"point": "Point", "line": "LineString"}.get(thing.shape, "Polygon")
    )
    stands = mode == _RELATIVE or (mode == _ABSOLUTE and thing.shape == "point")
    _text(made, "extrude", "1" if stands else "0")
    if thing.shape != "point":
        _text(made, "tessellate", "1" if mode == _CLAMPED else "0")
    _text(made, "altitudeMode", mode)
    if thing.shape != "area":
        _text(made, "coordinates", _coordinates(thing.parts[0], z[0] if z else None))
        return
    for i, ring in enumerate(thing.parts):
        edge = ET.SubElement(made, "innerBoundaryIs" if i else "outerBoundaryIs")
        closed = np.concatenate([ring, ring[:1]])
        over = np.concatenate([z[i], z[i][:1]]) if z else None
        _text(ET.SubElement(edge, "LinearRing"), "coordinates", _coordinates(closed, over))


def _mode(thing: Placed) -> str:
    if not thing.z_m or not all(np.isfinite(z).all() for z in thing.z_m):
        return _CLAMPED
    return {"elevation": _ABSOLUTE, "above the ground": _RELATIVE}.get(thing.heights, _CLAMPED)


def _coordinates(part: NDArray[np.float64], z_m: NDArray[np.float64] | None) -> str:
    flat = [f"{lon:.{DIGITS}f},{lat:.{DIGITS}f}" for lon, lat in degrees(part)]
    if z_m is None:
        return " ".join(flat)
    return " ".join(f"{xy},{round(float(z), 3) + 0.0:.3f}" for xy, z in zip(flat, z_m, strict=True))
