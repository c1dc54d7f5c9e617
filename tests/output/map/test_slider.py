"""The slider and the layers in a real browser, driven as a hand would, the network cut."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from shotplan.output.map import live as live_map
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan

PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
}
WIDE: dict[str, Any] = {"viewport": {"width": 1200, "height": 900}}

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("map") / "map.html"
    plan = made_plan(hilly=True, site_name=EVERY, shot_name=EVERY, tree_name=EVERY)
    path.write_text(live_map.html(plan), encoding="utf-8")
    return path


class Visit:
    """An open page, what its console said and what it asked the network for."""

    def __init__(self, browser: Browser, written: Path, screen: dict[str, Any]) -> None:
        self.context = browser.new_context(offline=True, **screen)
        self.page: Page = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(written.as_uri())
        self.first = written.as_uri()

    def close(self) -> None:
        """Nothing was said, nothing was asked for, no name ran or became an element."""
        title = self.page.title()
        strange = self.page.locator("img[src=x], svg[onload]").count()
        self.context.close()
        assert self.said == []
        assert [url for url in self.asked if not url.startswith(("data:", self.first))] == []
        assert "mirrored" in title
        assert strange == 0

    def text(self, key: str) -> str:
        return self.page.locator(f"#moment-{key}").inner_text()

    def at_s(self) -> float:
        return float(self.page.locator("#moment-at").input_value())

    def alone(self, index: int) -> None:
        """A tap on the shot's row."""
        self.page.locator("#shots a").nth(index).click()

    def middle(self, mark: str) -> tuple[float, float]:
        """Where a moving mark is on the screen."""
        box = self.page.locator(f".mover.{mark}").bounding_box()
        assert box is not None
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


@pytest.fixture(params=[PHONE, WIDE], ids=["phone", "wide"])
def visit(browser: Browser, written: Path, request: pytest.FixtureRequest) -> Iterator[Visit]:
    opened = Visit(browser, written, request.param)
    yield opened
    opened.close()


@pytest.fixture
def phone(browser: Browser, written: Path) -> Iterator[Visit]:
    opened = Visit(browser, written, PHONE)
    yield opened
    opened.close()


@pytest.fixture
def wide(browser: Browser, written: Path) -> Iterator[Visit]:
    opened = Visit(browser, written, WIDE)
    yield opened
    opened.close()


def test_arrow_keys_move_rider_and_aircraft_and_tell_the_moment(visit: Visit) -> None:
    page = visit.page
    assert page.locator(".mover").count() == 0
    visit.alone(0)
    page.locator("#moment-at").focus()
    page.keyboard.press("ArrowRight")
    first = visit.middle("craft"), visit.middle("rider")
    for _ in range(19):
        page.keyboard.press("ArrowRight")
    assert visit.at_s() == 10.0
    # The made ride goes 6 m/s; shot A begins at its start and flies 12 m abeam.
    assert re.fullmatch(r"10\.0 s, 60 m along the ride", visit.text("when"))
    assert "your display reads" in visit.text("display")
    assert re.match(r"1\d\.\d m away, flying 6\.0 m/s", visit.text("rider"))
    assert re.match(
        r"Sem (sees it: |sees it, |does not see it: |is )\d+ m away", visit.text("seen")
    )
    assert re.search(r", \d+\.\d m", visit.text("nearest"))
    assert re.match(r"(go|caution|unknown|no-go)\s", visit.text("binds"))
    then = visit.middle("craft"), visit.middle("rider")
    for (x, y), (x_then, y_then) in zip(first, then, strict=True):
        assert x_then > x  # to the north-east
        assert y_then < y
    page.keyboard.press("Shift+ArrowLeft")
    assert visit.at_s() == pytest.approx(9.9)


def test_the_fan_turns_with_the_camera(wide: Visit) -> None:
    """The made camera looks ahead, and from a third to half of the shot to the right of that."""
    tips = []
    for seconds in (5.0, 20.0):
        wide.page.locator("#moment-at").fill(str(seconds))
        x, y = wide.middle("craft")
        box = wide.page.locator("path.fan").bounding_box()
        assert box is not None
        tips.append((box["x"] + box["width"] / 2 - x, box["y"] + box["height"] / 2 - y))
    (ahead_x, ahead_y), (aside_x, aside_y) = tips
    assert ahead_x > 0.0 > ahead_y  # course 60°
    assert aside_x > 0.0  # 150°
    assert aside_y > 0.0


def test_looking_down_the_fan_is_the_ground_shown(browser: Browser, tmp_path: Path) -> None:
    """A rectangle around the aircraft, as wide over high as the picture."""
    plan = made_plan(site_name=EVERY)
    shot = plan.shots[0]
    track = shot.scene.track
    down = np.full_like(track.camera_elevation_rad, -np.pi / 2.0)
    scene = replace(shot.scene, track=replace(track, camera_elevation_rad=down))
    path = tmp_path / "map.html"
    shots = (replace(shot, scene=scene),)
    path.write_text(live_map.html(replace(plan, shots=shots)), encoding="utf-8")
    visit = Visit(browser, path, WIDE)
    visit.page.locator("#moment-at").fill("5.0")
    outline = visit.page.locator("path.fan").get_attribute("d")
    assert outline is not None
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", outline)]
    corners = np.array(numbers).reshape(-1, 2)[:4]
    sides = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
    assert sides.min() / sides.max() == pytest.approx(9 / 16, rel=0.1)
    assert sides[:2] == pytest.approx(sides[2:], abs=2.0)  # whole pixels
    box = visit.page.locator("path.fan").bounding_box()
    assert box is not None
    x, y = visit.middle("craft")
    assert box["x"] + box["width"] / 2 == pytest.approx(x, abs=3.0)
    assert box["y"] + box["height"] / 2 == pytest.approx(y, abs=3.0)
    visit.close()


def test_a_finger_picks_a_shot_drags_and_plays(phone: Visit) -> None:
    page = phone.page
    page.locator("#shots a").nth(1).tap()
    assert phone.text("when") == "0.0 s, 60 m along the ride"  # shot B begins there
    assert page.locator("#shots a[aria-pressed=true] > b").inner_text() == "B"
    page.locator("#moment-at").tap()  # its middle
    assert phone.at_s() == pytest.approx(7.5, abs=0.5)  # half of 15 s
    page.locator("#moment-fast").tap()
    page.locator("#moment-play").tap()
    for _ in range(200):
        if phone.at_s() > 8.5:
            break
        page.wait_for_timeout(50)
    assert phone.at_s() > 8.5
    page.locator("#moment-play").tap()
    stood = phone.at_s()
    page.wait_for_timeout(300)
    assert phone.at_s() == stood


def test_it_plays_to_the_end_and_stops_there(wide: Visit) -> None:
    wide.alone(1)
    wide.page.locator("#moment-at").fill("14.5")
    wide.page.locator("#moment-play").click()
    expect(wide.page.locator("#moment-play")).to_have_attribute("aria-label", "pause")
    expect(wide.page.locator("#moment-play")).to_have_attribute("aria-label", "play")
    assert wide.at_s() == 15.0
    assert wide.text("when") == "15.0 s, 150 m along the ride"


def test_buttons_and_bar_are_large_enough_for_a_finger_and_nothing_is_cut_off(phone: Visit) -> None:
    phone.alone(0)
    for button in phone.page.locator("#moment button, #moment-at").all():
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44
    assert phone.page.evaluate("document.documentElement.scrollWidth") <= 390


def test_the_layer_list_works_with_a_finger_and_zooms_nothing(phone: Visit) -> None:
    page = phone.page
    page.locator(".leaflet-control-layers-toggle").tap()
    labels = page.locator(".leaflet-control-layers label")
    titles = [label.inner_text().strip() for label in labels.all()]
    assert titles[:4] == [
        "ground, heights, water",
        "trees, buildings, wires",
        "people, keep-outs, boundary",
        "the ride, launch, stands",
    ]
    assert any("onerror=document" in title for title in titles)
    assert not any("sheet" in title for title in titles)
    before = page.locator(".leaflet-control-scale-line").first.inner_text()
    off = labels.filter(has_text="what Sem sees")
    assert not off.locator("input").is_checked()
    off.tap()
    assert off.locator("input").is_checked()
    ground = labels.first
    ground.tap()
    assert page.locator(".leaflet-image-layer").count() == 0
    ground.tap()
    assert page.locator(".leaflet-image-layer").count() == 1
    assert page.locator(".leaflet-control-scale-line").first.inner_text() == before


def test_a_sheet_shown_again_lies_where_it_lay(wide: Visit) -> None:
    """The pond of the first sheet would else cover the tracks."""
    paths = "document.querySelectorAll('.leaflet-overlay-pane path')"
    order = f"Array.from({paths}).map(p => p.outerHTML)"
    before = wide.page.evaluate(order)
    box = wide.page.locator(".leaflet-control-layers-toggle").bounding_box()
    assert box is not None
    wide.page.mouse.move(box["x"] + 20, box["y"] + 20)
    first = wide.page.locator(".leaflet-control-layers label").first
    first.click()
    assert len(wide.page.evaluate(order)) < len(before)
    first.click()
    assert wide.page.evaluate(order) == before


def test_a_tap_on_a_track_moves_the_slider_there(wide: Visit) -> None:
    wide.page.locator("#moment-at").focus()
    wide.page.keyboard.press("PageUp")
    x, y = wide.middle("craft")
    wide.page.keyboard.press("Home")
    wide.page.mouse.click(x, y)
    assert wide.at_s() == pytest.approx(5.0, abs=0.5)
    assert "what binds" in wide.page.locator("#sheet").inner_text()


def test_only_the_worst_pins_are_seen_at_first(wide: Visit) -> None:
    calls = wide.page.locator(".near")
    assert all(not call.is_visible() for call in calls.all())
    expect(wide.page.locator(".folium-map")).to_have_class(re.compile(r"\bfar\b"))
    wide.page.locator(".leaflet-control-zoom-in").click()
    expect(wide.page.locator(".folium-map")).not_to_have_class(re.compile(r"\bfar\b"))


def test_on_paper_the_picture_and_the_words_stand_without_controls(wide: Visit) -> None:
    wide.page.evaluate("dispatchEvent(new Event('beforeprint'))")
    wide.page.emulate_media(media="print")
    assert wide.page.locator("#still").is_visible()
    for gone in ("#live", "#moment", "#moment-play"):
        assert not wide.page.locator(gone).is_visible()
    rest = wide.page.locator("#shot-A details:not(.small)")
    assert all(it.get_attribute("open") is not None for it in rest.all())
    breaks = "getComputedStyle(document.getElementById('shot-B')).breakBefore"
    assert wide.page.evaluate(breaks) == "page"
    wide.page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert all(it.get_attribute("open") is None for it in rest.all())
