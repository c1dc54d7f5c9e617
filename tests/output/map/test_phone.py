"""The page in the hand, upright and lying, and on a desk: sizes, what lies over what, contrast."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from shotplan.output.map import live as live_map
from tests.output.made_plan import made_plan
from tests.output.map.test_slider import PHONE

LYING: dict[str, Any] = {**PHONE, "viewport": {"width": 844, "height": 390}}
DESK: dict[str, Any] = {"viewport": {"width": 1400, "height": 900}}
SCREENS = {"phone": PHONE, "lying": LYING, "desk": DESK}
LEAST_PX, BETWEEN_PX, CONTRAST, ON_THE_HILL = 44, 8, 4.5, 7.0
PALE = 0.45

pytestmark = pytest.mark.browser

# Contrast of every text that is seen, against the nearest painted field behind it (WCAG 2.2).
CONTRASTS = """() => {
  function parts(colour) { return colour.match(/[0-9.]+/g).map(Number); }
  function lum(c) {
    var v = c.slice(0, 3).map(x => x / 255).map(x =>
      x <= 0.04045 ? x / 12.92 : Math.pow((x + 0.055) / 1.055, 2.4));
    return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2];
  }
  var found = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    var it = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || !it.getClientRects().length) { continue; }
    if (it.closest("script, svg, .leaflet-marker-pane")) { continue; }
    var ground = null, up = it;
    while (up && !ground) {
      var c = parts(getComputedStyle(up).backgroundColor);
      if (c.length < 4 || c[3] > 0.5) { ground = c; }
      up = up.parentElement;
    }
    var a = lum(parts(getComputedStyle(it).color)), b = lum(ground || [255, 255, 255]);
    found.push([(Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), walk.currentNode.data.trim(),
      it.closest(".chip") !== null]);
  }
  return found;
}"""
# Name, width and height of everything to tap that is seen.
TARGETS = """() => Array.from(document.querySelectorAll(
    "#shots a, #bar a, #moment button, #moment-at, #sheet button, #recheck button, " +
    "#recheck input, .leaflet-control a, summary"))
  .filter(it => it.getClientRects().length && it.checkVisibility())
  .map(it => { var r = it.getBoundingClientRect();
    return [it.id || it.textContent.slice(0, 30), r.width, r.height]; })"""
OVER = """() => { var r = document.getElementById("sheet").getBoundingClientRect(), over = [];
  for (var i = 1; i < 12; i += 1) { for (var j = 1; j < 12; j += 1) {
    var top = document.elementFromPoint(r.left + r.width * i / 12, r.top + r.height * j / 12);
    if (!top.closest("#sheet")) { over.push(top.outerHTML.slice(0, 80)); }
  } }
  return over; }"""


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("phone") / "map.html"
    path.write_text(live_map.html(made_plan(hilly=True, rides=2)), encoding="utf-8")
    return path


@pytest.fixture(params=SCREENS)
def page(browser: Browser, written: Path, request: pytest.FixtureRequest) -> Iterator[Page]:
    context = browser.new_context(offline=True, **SCREENS[request.param])
    opened = context.new_page()
    opened.goto(written.as_uri())
    yield opened
    context.close()


def tap_a_pin(page: Page) -> None:
    page.evaluate("document.querySelector('.mark.pin-no-go span').click()")
    assert page.locator("#sheet").is_visible()


def test_every_target_is_large_enough_for_a_finger(page: Page) -> None:
    small = []
    for tap in ("", "#shots a", ".mark.pin-no-go span", "#sheet-all"):
        if tap:
            page.evaluate("tap => document.querySelector(tap).click()", tap)
        small += [t for t in page.evaluate(TARGETS) if min(t[1:]) < LEAST_PX - 0.01]
    assert not small
    assert page.evaluate("document.documentElement.scrollWidth") <= page.evaluate("innerWidth")


def test_buttons_side_by_side_are_a_finger_apart(page: Page) -> None:
    for group in (
        "#bar a",
        "#sheet-next button",
        "#recheck .choice button",
        "#recheck-rose button",
    ):
        if group.startswith("#sheet"):
            tap_a_pin(page)
        boxes = [b for b in (it.bounding_box() for it in page.locator(group).all()) if b]
        boxes.sort(key=lambda b: (round(b["y"]), b["x"]))
        for one, other in pairwise(boxes):
            if round(one["y"]) == round(other["y"]):
                apart = other["x"] - one["x"] - one["width"]
                assert apart >= (BETWEEN_PX if page.evaluate("innerHeight") > 500 else 6) - 0.01


def test_words_stand_out_from_their_ground(page: Page) -> None:
    page.locator("#shots a").first.click()
    tap_a_pin(page)
    found = page.evaluate(CONTRASTS)
    assert len(found) > 60
    assert [f for f in found if f[0] < CONTRAST] == []
    panel = CONTRASTS.replace("document.body", "document.getElementById('recheck')")
    hill = page.evaluate(panel)
    assert len(hill) > 20
    assert [f for f in hill if f[0] < ON_THE_HILL and not f[2]] == []


def test_nothing_lies_over_the_sheet_and_its_cross_closes_it(page: Page) -> None:
    tap_a_pin(page)
    assert page.evaluate(OVER) == []
    close = page.locator("#sheet-close").bounding_box()
    sheet = page.locator("#sheet").bounding_box()
    assert close is not None
    assert sheet is not None
    assert min(close["width"], close["height"]) >= LEAST_PX
    assert close["y"] - sheet["y"] < 30
    assert sheet["x"] + sheet["width"] - close["x"] - close["width"] < 30
    assert sheet["y"] + sheet["height"] == pytest.approx(page.evaluate("innerHeight"), abs=1)
    if page.evaluate("innerHeight") > 500:
        assert sheet["height"] <= 0.6 * page.evaluate("innerHeight")
    page.locator("#sheet-close").click()
    assert not page.locator("#sheet").is_visible()
    assert page.locator("path.ring").count() == 0


def test_the_place_a_sheet_tells_of_stays_in_sight_in_a_ring(page: Page) -> None:
    tap_a_pin(page)
    ring = page.locator("path.ring").first.bounding_box()
    sheet, live = (page.locator(s).bounding_box() for s in ("#sheet", "#live"))
    assert ring is not None
    assert sheet is not None
    assert live is not None
    middle = (ring["x"] + ring["width"] / 2, ring["y"] + ring["height"] / 2)
    assert live["x"] < middle[0] < live["x"] + live["width"]
    assert live["y"] < middle[1] < live["y"] + live["height"]
    within = sheet["x"] < middle[0] < sheet["x"] + sheet["width"] and middle[1] > sheet["y"]
    assert not within


def test_from_one_finding_to_the_next_and_back_to_all(page: Page) -> None:
    tap_a_pin(page)
    assert page.locator("#sheet-title").inner_text().startswith("A·1 It hits")
    assert page.locator("#sheet-mark").inner_text() == "×"
    finds = page.evaluate("shotplanWords.finds[0].length")
    page.locator("#sheet-all").click()
    assert page.locator("#sheet .find").count() == finds
    page.locator("#sheet .find").last.click()
    if finds > 1:
        page.locator("#sheet-on").click()
    assert page.locator("#sheet-title").inner_text().startswith("A·1 It hits")


def test_the_first_screen_names_every_shot_with_its_word_and_a_reason(page: Page) -> None:
    height = page.evaluate("innerHeight")
    for row in page.locator("#shots a").all():
        box = row.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= height
        for part in (".named", ".why", ".chip"):
            assert row.locator(part).is_visible()
            assert row.locator(part).inner_text().strip()
    live = page.locator("#live").bounding_box()
    assert live is not None
    assert live["y"] + live["height"] <= height
    assert live["height"] >= 320


def test_a_tap_on_a_row_shows_that_shot_and_pales_the_others(page: Page) -> None:
    def shown(of: int) -> set[float]:
        return set(
            page.evaluate(
                "of => { var seen = []; map_00001.eachLayer(l => { if (l.shotplanOf === of)"
                " seen.push(Number(getComputedStyle(l.getElement()).opacity)); }); return seen; }",
                of,
            )
        )

    assert shown(0) == shown(1) == {1.0}
    page.locator("#shots a").nth(1).click()
    assert (shown(0), shown(1)) == ({PALE}, {1.0})
    assert page.locator("#shots a").nth(1).get_attribute("aria-pressed") == "true"
    assert page.locator("#moment-at").is_visible()
    page.locator("#shots a").nth(1).click()
    assert shown(0) == shown(1) == {1.0}
    assert page.locator(".mover").count() == 0


def test_the_first_view_holds_all_flights_clear_of_the_controls(page: Page) -> None:
    under = page.evaluate("""() => {
      var frame = document.getElementById("live").getBoundingClientRect(), bad = 0;
      var boxes = Array.from(document.querySelectorAll("#air, #live .leaflet-control"))
        .map(c => c.getBoundingClientRect());
      shotplanWords.shots.forEach(s => s.rows.forEach(r => {
        var p = map_00001.latLngToContainerPoint(shotplanAt(r[2], r[3]));
        var x = p.x + frame.left, y = p.y + frame.top;
        if (p.x < 0 || p.y < 0 || x > frame.right || y > frame.bottom) { bad += 1; }
        boxes.forEach(b => {
          if (x > b.left && x < b.right && y > b.top && y < b.bottom) { bad += 1; }
        });
      }));
      return bad; }""")
    assert under == 0


def test_the_panel_has_the_words_on_top_and_takes_comma_and_steps(page: Page) -> None:
    page.evaluate("document.getElementById('recheck').scrollIntoView()")
    words, first = (page.locator(s).bounding_box() for s in ("#recheck-words", "#recheck-rose"))
    assert words is not None
    assert first is not None
    assert words["y"] + words["height"] <= first["y"]
    assert all(why.inner_text() for why in page.locator("#recheck-words .why").all())
    page.locator("#recheck-mean").fill("3,5")
    more = page.locator("label:has(#recheck-mean) [data-step='1']")
    more.click()
    assert page.locator("#recheck-mean").input_value() == "4"
    assert "say where the wind comes from" in page.locator("#recheck-words").inner_text()
    page.locator("label:has(#recheck-time) [data-step='1']").click()
    assert page.locator("#recheck-time").input_value() == "20:10"  # the planned hour, first
    page.locator("label:has(#recheck-time) [data-step='1']").click()
    assert page.locator("#recheck-time").input_value() == "20:25"
    page.locator("#recheck [data-side='4']").click()
    page.locator("#recheck [data-turn='1']").click()
    assert page.locator("#recheck-from").inner_text() == "ESE"
