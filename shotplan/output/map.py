"""map.html: the plan on a live map in one file that needs no network.

folium writes the layers and is given shapes, numbers and fixed words only: it compiles text it
is handed as a template. Every name from a file travels in one JSON block (`map.js` puts it on the
page as text) or, escaped, in the words below the map (`page.py`).
"""

from __future__ import annotations

import base64
import itertools
import math
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from shotplan.model.arrays import Array
from shotplan.model.frame import Frame
from shotplan.model.judged import Plan, ShotPlan
from shotplan.model.verdict import Verdict
from shotplan.output import drawing, first, ground, look, measures, page, still, words
from shotplan.output.shapes import Extent, Info, Shape, Sheet

if TYPE_CHECKING:
    import folium

NAME = "map.html"
MOST_SAMPLES = 400  # of one shot that a tap can tell


def output(plan: Plan) -> dict[str, bytes]:
    """The file's name and bytes."""
    return {NAME: html(plan).encode("utf-8")}


def html(plan: Plan) -> str:
    """The whole page."""
    site = plan.outing.site
    whole, close = drawing.whole(plan), drawing.close(plan)
    sheets = drawing.sheets(plan, whole, ground.contours(site.terrain, whole))
    relief, backdrop = (ground.relief(site.terrain, site.frame, v) for v in (close, whole))
    infos = _Infos()
    live = _folium(sheets, backdrop, site.frame, infos)
    _fit(live, site.frame, close)
    body, script = _rendered(live)
    block = {
        "titles": [s.title for s in sheets],
        "infos": [[i.title, [list(r) for r in i.rows]] for i in infos.found],
        "shots": [_samples(s, words.letter(i)) for i, s in enumerate(plan.shots)],
    }
    looks = {shape.look for sheet in sheets for shape in sheet.shapes}
    looks |= {"hatch"} if backdrop.gaps else set()
    weather = plan.outing.day.weather
    air = page.Air(first.wind(weather), first.blows_to_deg(weather))
    return page.page(
        words.answer(plan),
        picture=_data_uri(still.png(relief, sheets, close, *air)),
        live=body,
        block=block,
        script=script,
        looks=looks,
        air=air,
        left_out=drawing.left_out(plan),
        tool=f"shotplan {plan.version}",
    )


class _Infos:
    """Numbers the words of shapes, so that a shape carries a number only."""

    def __init__(self) -> None:
        self.found: list[Info] = []
        self._number: dict[Info, int] = {}

    def number(self, info: Info) -> int:
        if info not in self._number:
            self._number[info] = len(self.found)
            self.found.append(info)
        return self._number[info]


def _folium(
    sheets: tuple[Sheet, ...], relief: ground.Relief, frame: Frame, infos: _Infos
) -> folium.Map:
    """The layers of the live map, the ground below and the layer list last."""
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
    backdrop = _data_uri(ground.png(relief))
    folium.raster_layers.ImageOverlay(
        backdrop, bounds, name="ground", control=False, interactive=False
    ).add_to(live)
    for index, sheet in enumerate(sheets):
        if not sheet.shapes:
            continue
        group = folium.FeatureGroup(name=f"sheet {index}").add_to(live)
        for key, shapes in itertools.groupby(sheet.shapes, key=lambda s: (s.kind, s.look)):
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
    }


def _features(shapes: Iterable[Shape], frame: Frame, infos: _Infos) -> dict[str, Any]:
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
    degrees = np.round(frame.lonlat_deg(np.asarray(path, dtype=float)), 7)
    return [[float(lon), float(lat)] for lon, lat in degrees]


def _samples(shot: ShotPlan, letter: str) -> dict[str, Any]:
    """What a tap on a track can tell: a row per sample, thinned evenly."""
    scene = shot.scene
    n = len(scene.track.ride.t_s)
    kept = range(0, n, max(1, math.ceil(n / MOST_SAMPLES)))
    lonlat = _degrees(scene.site.frame, scene.track.xyz_m[0, list(kept), :2])
    rows = [
        [
            lon,
            lat,
            _short(scene.track.ride.t_s[i]),
            _short(scene.track.ride.along_m[0, i]),
            _short(scene.height_m[0, i]),
            _short(scene.surface_m[i]),
            _short(scene.height_above_launch_m[0, i]),
            Verdict(int(shot.sample_verdict[i])).word,
            int(scene.blind[0, i]),
            _binds(shot, i),
        ]
        for i, (lon, lat) in zip(kept, lonlat, strict=True)
    ]
    return {"title": f"{letter}: {words.plain(scene.shot.name)}", "rows": rows}


def _short(value: float) -> float | None:
    return round(float(value), 1) + 0.0 if math.isfinite(value) else None


def _binds(shot: ShotPlan, i: int) -> str:
    """What decides at a sample, with its distance; where all is go, the nearest harm."""
    chosen = int(shot.sample_binding[i])
    if chosen < 0:
        harms = [f for f in shot.findings if f.family == "harm" and f.unit == "m"]
        if not harms:
            return "nothing"
        found = min(harms, key=lambda f: (float(np.nan_to_num(f.margins[i], nan=np.inf)), f.check))
    else:
        found = shot.findings[chosen]
    value, limit = float(found.values[i]), float(found.limits[i])
    text = f"{found.check}: {_amount(value, found.unit)}"
    if math.isfinite(limit):
        side = "at most" if measures.at_most(found) else "needs"
        text += f", {side} {_amount(limit, found.unit)}"
    thing = words.plain(str(found.things[i]))
    return f"{text}, {thing}" if thing else text


def _amount(value: float, unit: str) -> str:
    return measures.amount(value if math.isfinite(value) else None, unit)


def _data_uri(png: bytes) -> str:
    return "data:image/png;base64," + base64.b64encode(png).decode("ascii")
