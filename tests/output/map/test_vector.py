"""The map drawn into the page: well-formed, complete, in place, names from files as text."""

from __future__ import annotations

import base64
import io
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from shotplan.judging.judged import Plan
from shotplan.output import look, paper
from shotplan.output.lettering import wide
from shotplan.output.map import drawing, ground, still, tags, vector
from shotplan.output.map.shapes import Extent, Shape, Sheet
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan

VIEW = Extent(-50.0, -40.0, 50.0, 40.0)
SQUARE = np.array([[-10.0, -10.0], [10.0, -10.0], [10.0, 10.0], [-10.0, 10.0]])
LEVEL = ground.Relief(np.full((64, 80), ground.LEVEL, np.uint8), -0.1, -0.1, 0.1, 0.1, relief=False)


def drawn(*shapes: Shape, on: bool = True) -> ElementTree.Element:
    return ElementTree.fromstring(vector.svg(LEVEL, (Sheet("some", shapes, on=on),), VIEW))


def of(plan: Plan) -> str:
    site, close = plan.outing.site, drawing.close(plan)
    sheets = drawing.sheets(plan, close, ground.contours(site.terrain, close))
    relief = ground.relief(site.terrain, site.frame, close)
    return vector.svg(relief, sheets, close, "wind from W, 4 m/s", 270.0, 4.0)


@pytest.fixture(scope="module")
def hostile() -> str:
    return of(made_plan(site_name=EVERY, shot_name=EVERY, tree_name=EVERY))


def test_it_is_well_formed_fetches_nothing_and_runs_nothing(hostile: str) -> None:
    found = list(ElementTree.fromstring(hostile).iter())
    assert {e.tag for e in found} <= {
        "svg", "clipPath", "g", "rect", "image", "path", "circle", "text"
    }  # fmt: skip
    names = {name for e in found for name in e.attrib}
    assert not any(name.startswith("on") or name == "style" for name in names)
    assert all(e.get("href", "data:image/png").startswith("data:image/png") for e in found)


def test_names_from_files_are_text_in_it(hostile: str) -> None:
    assert "<img" not in hostile
    assert "onload=" not in hostile.replace("&lt;svg onload=", "")
    words = {e.text for e in ElementTree.fromstring(hostile).iter("text")}
    assert "wind from W, 4 m/s" in words


def test_names_stand_in_it_in_the_colour_of_what_they_name() -> None:
    texts = {e.text: e for e in ElementTree.fromstring(of(made_plan())).iter("text")}
    assert texts["the leaning larch"].get("fill") == look.INK
    assert texts["coast path, may pass"].get("fill") == look.NAMES["people"]
    assert "rotate" in texts["coast path, may pass"].get("transform", "")
    assert texts["the leaning larch"].get("paint-order") == "stroke"


def test_a_height_figure_is_turned_with_its_line_in_its_colour() -> None:
    figure = Shape("mark", "elevation", (np.zeros((1, 2)),), tag="75", turn_deg=30.0)
    (text,) = [t for t in drawn(figure).iter("text") if t.text == "75"]
    assert text.get("fill") == look.HEIGHT_INK
    assert text.get("transform", "").startswith("rotate(30 ")
    assert text.get("font-style") == "italic"


def test_a_circle_lies_where_it_is_and_to_scale() -> None:
    tree = Shape("circle", "tree", (np.array([[25.0, 20.0]]),), radius_m=5.0)
    (circle,) = drawn(tree).iter("circle")
    unit = vector.WIDE / 100.0
    at = [float(circle.get(name, "nan")) for name in ("cx", "cy", "r")]
    assert at == pytest.approx([75.0 * unit, 20.0 * unit, 5.0 * unit], abs=0.5)


def test_a_hole_is_a_hole_whichever_way_it_runs() -> None:
    for hole in (0.5 * SQUARE, 0.5 * SQUARE[::-1]):
        group = next(g for g in drawn(Shape("area", "wood", (SQUARE, hole))).iter("g") if "fill" in
                     g.attrib)  # fmt: skip
        assert group.get("fill-rule") == "evenodd"
        (path,) = group.iter("path")
        assert path.get("d", "").count("M") == path.get("d", "").count("Z") == 2


def test_what_is_off_out_of_view_or_only_touched_is_not_drawn() -> None:
    line = Shape("line", "ride", (SQUARE,))
    bare = ElementTree.tostring(drawn())
    assert ElementTree.tostring(drawn(line)) != bare
    assert ElementTree.tostring(drawn(line, on=False)) == bare
    assert ElementTree.tostring(drawn(line._replace(parts=(SQUARE + 500.0,)))) == bare
    assert ElementTree.tostring(drawn(line._replace(look="touch"))) == bare


def test_neighbours_of_one_look_are_one_path_and_order_is_kept() -> None:
    ride, wire = (Shape("line", name, (SQUARE,)) for name in ("ride", "wire"))
    paths = [p.get("stroke") for p in drawn(ride, ride, wire, ride).iter("path")]
    ink, dark = look.LOOKS["ride"].line, look.LOOKS["wire"].line
    assert paths[:3] == [ink, dark, ink]


@pytest.mark.parametrize("tag", ["A·1", "C·3, 4, 6", "150", "launch", "D"])
def test_a_sign_has_room_for_what_is_written_on_it(tag: str) -> None:
    name = "pin-no-go" if "·" in tag else "start" if tag.isupper() else "call"
    shape = Shape("mark", name, (np.zeros((1, 2)),), tag=tag)
    sign = next(r for r in drawn(shape).iter("rect") if "rx" in r.attrib)
    size = tags.size_pt(shape)
    needs = vector.TENTHS * wide(tag, size, bold=True)
    needs += 1.45 * size * vector.TENTHS * (name in tags.SIGNS)
    assert needs < float(sign.get("width", "0")) < needs + 1.5 * size * vector.TENTHS


def test_the_two_pictures_of_a_map_write_the_same_tags(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = made_plan(hilly=True)
    written: list[str] = []
    monkeypatch.setattr(paper, "beside", lambda *a, **_: written.append(a[3]))
    site, close = plan.outing.site, drawing.close(plan)
    sheets = drawing.sheets(plan, close, ground.contours(site.terrain, close))
    still.png(ground.relief(site.terrain, site.frame, close), sheets, close, "wind from W, 4 m/s")
    told = {e.text for e in ElementTree.fromstring(of(plan)).iter("text")}
    pixels = {text.removeprefix("× ").removeprefix("! ").removeprefix("? ") for text in written}
    assert any(text.startswith("× A·") for text in written)
    assert pixels - told == {"100 m, north is up"}  # the drawing has an arrow for north
    assert {"200 ft", "launch", "A", "B"} <= pixels


def test_the_ground_is_the_relief() -> None:
    (image,) = drawn().iter("image")
    data = base64.b64decode(image.get("href", "").partition(",")[2])
    shown = np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
    assert (shown == ground.rgb(LEVEL)).all()
