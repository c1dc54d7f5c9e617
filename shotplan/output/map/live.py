"""map.html: the plan on a live map in one file that needs no network.

folium writes the layers and is given shapes, numbers and fixed words only: it compiles text it
is handed as a template. Every name from a file travels in one JSON block (`map.js` puts it on the
page as text) or, escaped, in the words below the map (`page.py`).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from shotplan.judging.judged import Plan
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame
from shotplan.output import answer, credit, first, look, words
from shotplan.output.html import picture
from shotplan.output.map import (
    drawing,
    findings,
    ground,
    page,
    recheck,
    slider,
    slider_rows,
    top,
    vector,
)
from shotplan.output.map.shapes import Extent, Info, Numbered, Shape, Sheet

if TYPE_CHECKING:
    import folium

NAME = "map.html"
BY_SCRIPT = {"cross", "elevation"}  # the page draws these itself, at every scale anew


def output(plan: Plan) -> dict[str, bytes]:
    """The file's name and bytes."""
    return {NAME: html(plan).encode("utf-8")}


def html(plan: Plan) -> str:
    """The whole page."""
    site = plan.outing.site
    whole, close = drawing.whole(plan), drawing.close(plan)
    sheets = drawing.sheets(plan, whole, ground.contours(site.terrain, whole))
    relief, backdrop = (ground.relief(site.terrain, site.frame, v) for v in (close, whole))
    infos = Numbered[Info]()  # so that a shape carries a number only
    live = _folium(sheets, backdrop, site.frame, infos)
    _fit(live, site.frame, close)
    body, script = _rendered(live)
    block = {
        "titles": [s.title for s in sheets],
        "infos": [[i.title, [list(r) for r in i.rows], i.name, i.rank] for i in infos],
        **findings.block(plan),
        **slider_rows.block(plan.shots, site.frame),
        **recheck.block(plan),
    }
    hatch = {"hatch"} if backdrop.gaps else set()
    printed = {shape.look for sheet in sheets if sheet.on for shape in sheet.shapes} | hatch
    looks = {shape.look for sheet in sheets for shape in sheet.shapes} | hatch | set(slider.LOOKS)
    air = first.barb(plan.outing.day.weather)
    return page.page(
        answer.answer(plan),
        top=top.top(plan),
        still=vector.svg(relief, sheets, close, *air, credited=credit.line(site)),
        live=body,
        block=block,
        script=script,
        panels=(slider.panel(), recheck.panel(plan)),
        looks=looks,
        printed=printed - {"call"},
        air=air,
        left_out=drawing.left_out(plan),
        tool=f"shotplan {plan.version}. {words.made(plan.outing)}",
    )


def _folium(
    sheets: tuple[Sheet, ...], relief: ground.Relief, frame: Frame, infos: Numbered[Info]
) -> folium.Map:
    """The layers of the live map, the relief in the first and the layer list last."""
    import folium

    bounds = [[relief.south_deg, relief.west_deg], [relief.north_deg, relief.east_deg]]
    live = folium.Map(
        location=np.mean(bounds, axis=0).tolist(),
        tiles=None,
        control_scale=True,
        minZoom=11,
        maxZoom=23,
        zoom_snap=0.25,
        zoom_control="bottomright",
        attribution_control=False,
    )
    for index, sheet in enumerate(sheets):
        if not sheet.shapes and index > 0:
            continue
        group = folium.FeatureGroup(name=f"sheet {index}", show=sheet.on).add_to(live)
        if index == 0:
            backdrop = picture(ground.png(relief))
            folium.raster_layers.ImageOverlay(
                backdrop, bounds, control=False, interactive=False
            ).add_to(group)
        drawn = (shape for shape in sheet.shapes if shape.look not in BY_SCRIPT)
        for key, shapes in itertools.groupby(drawn, key=lambda s: (s.kind, s.look)):
            _layer(*key, _features(shapes, frame, infos)).add_to(group)
    folium.LayerControl(collapsed=True).add_to(live)
    return live


def _fit(live: folium.Map, frame: Frame, view: Extent) -> None:
    corners = np.array([[view.west_m, view.south_m], [view.east_m, view.north_m]])
    live.fit_bounds([[lat, lon] for lon, lat in _degrees(frame, corners)])


def _rendered(live: folium.Map) -> tuple[str, str]:
    """Container and script as folium writes them; its page is not used, it links to the network."""
    root: Any = live.get_root()
    _number(root, itertools.count())
    root.render()
    return root.html.render(), root.script.render()


def _number(element: Any, count: Iterator[int]) -> None:
    """Fixed ids instead of random ones: the same plan gives the same bytes."""
    element._id = f"{next(count):05d}"
    for child in element._children.values():
        _number(child, count)


def _layer(kind: str, name: str, collection: dict[str, Any]) -> Any:
    import folium

    each = folium.utilities.JsCode("shotplanEach")
    if kind == "mark":
        point = folium.Marker(icon=folium.DivIcon())
        return folium.GeoJson(collection, marker=point, on_each_feature=each, control=False,
                              style_function=lambda _: {"className": f"mark {name}"})  # fmt: skip
    style = _style(kind, name)
    disc = folium.Circle(radius=1.0) if kind == "circle" else None
    return folium.GeoJson(collection, marker=disc, on_each_feature=each, control=False,
                          style_function=lambda _: dict(style), smooth_factor=0.5)  # fmt: skip


def _style(kind: str, name: str) -> dict[str, Any]:
    """A look in Leaflet's words."""
    it = look.LOOKS[name]
    return {
        "color": it.line,
        "weight": it.width,
        "opacity": 0.0 if name == "touch" else 1.0,
        "dashArray": " ".join(str(d) for d in it.dash) or None,
        "lineCap": "butt" if it.square else "round",
        "fill": bool(it.fill) and kind != "line",
        "fillColor": it.fill or None,
        "fillOpacity": it.density,
        "className": name,
    }


def _features(shapes: Iterable[Shape], frame: Frame, infos: Numbered[Info]) -> dict[str, Any]:
    features = []
    for number, shape in enumerate(shapes):
        told: dict[str, Any] = {}
        if shape.info is not None:
            told["i"] = infos.number(shape.info)
        if shape.kind == "circle":
            told["r"] = round(shape.radius_m, 2)
        if shape.tag:
            told["tag"] = shape.tag
        if shape.shot >= 0:
            told["shot"] = shape.shot
        if shape.near:
            told["near"] = 1
        if shape.of >= 0:
            told["of"] = shape.of
        features.append(
            {"type": "Feature", "id": str(number), "properties": told,
             "geometry": _geometry(shape, frame)}
        )  # fmt: skip
    return {"type": "FeatureCollection", "features": features}


def _geometry(shape: Shape, frame: Frame) -> dict[str, Any]:
    rings = [_degrees(frame, part) for part in shape.parts]
    if shape.kind == "area":
        return {"type": "Polygon", "coordinates": [[*r, r[0]] for r in rings]}
    if shape.kind == "line":
        return {"type": "LineString", "coordinates": rings[0]}
    return {"type": "Point", "coordinates": rings[0][0]}


def _degrees(frame: Frame, path: Array) -> list[list[float]]:
    """Longitude, latitude to 7 decimals: a centimetre."""
    degrees = np.round(frame.turned_deg(np.asarray(path, dtype=float)), 7)
    return [[float(lon), float(lat)] for lon, lat in degrees]
