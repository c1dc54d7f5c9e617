"""The page in a real browser, driven as a hand would, against the real command."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import tomllib
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from playwright.sync_api import Browser, Page, expect

from shotplan.outing import read
from tests.output.hostile import NAMES
from tests.output.map.test_slider import PHONE
from tests.worlds import tree, write_site

ROOT = Path(__file__).resolve().parents[2]
DESK: dict[str, Any] = {"viewport": {"width": 1400, "height": 900}}
SLOW_MS = 60_000.0
HOSTILE = " ".join((NAMES[0], NAMES[1], NAMES[3]))
LEAST_PX = 44

pytestmark = pytest.mark.browser

TARGETS = """() => Array.from(document.querySelectorAll(
    "button, select, input:not([type=checkbox]), .handle, .leaflet-control a"))
  .filter(it => it.getClientRects().length && it.checkVisibility() && !it.closest(".number"))
  .map(it => { var r = it.getBoundingClientRect();
    return [it.id || it.className || it.textContent.slice(0, 30), r.width, r.height]; })"""


class Served(NamedTuple):
    """A site folder and the address of its page."""

    site: Path
    address: str

    def ground(self) -> dict[str, dict[str, Any]]:
        text = (self.site / "ground.geojson").read_text("utf-8")
        return {f.get("id", f["properties"].get("id")): f for f in json.loads(text)["features"]}

    def toml(self) -> dict[str, Any]:
        return tomllib.loads((self.site / "site.toml").read_text("utf-8"))


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    site = write_site(
        tmp_path_factory.mktemp("page") / "site",
        site={"name": f"Heath {HOSTILE}"},
        features=[tree("oak", east_m=30.0, north_m=4.0, name=HOSTILE)],
    )
    text = (site / "site.toml").read_text("utf-8").replace("[[shot]]", "# the first\n[[shot]]")
    (site / "site.toml").write_text(text, encoding="utf-8")
    before = {p.name for p in site.iterdir()}
    with subprocess.Popen(
        [sys.executable, "-c", "from shotplan.cli import main; main()", "draw", str(site)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    ) as started:  # fmt: skip
        assert started.stdout is not None
        assert started.stderr is not None
        yield Served(site, started.stdout.readline().strip())
        started.send_signal(signal.SIGINT)
        assert started.wait(20) == 0
        assert "Traceback" not in started.stderr.read()
    left = {p.name for p in site.iterdir()} - before
    assert left <= {"site.toml.before", "ground.geojson.before"}


class Visit:
    """An open page, and what its console said."""

    def __init__(self, browser: Browser, served: Served, screen: dict[str, Any]) -> None:
        self.context = browser.new_context(**screen)
        self.page: Page = self.context.new_page()
        self.said: list[str] = []
        self.page.on("console", lambda it: self.said.append(it.text))
        self.page.on("pageerror", lambda it: self.said.append(str(it)))
        self.page.goto(served.address)
        self.ready()

    def ready(self) -> None:
        words = self.page.locator(".tab:not(.old) .chip:not(.none)")
        expect(words.first).to_be_visible(timeout=SLOW_MS)
        expect(self.page.locator("#title")).not_to_be_empty()

    def at(self, x: float, y: float) -> tuple[float, float]:
        """A place on the map, as shares of it."""
        box = self.page.locator("#map").bounding_box()
        assert box is not None
        return box["x"] + x * box["width"], box["y"] + y * box["height"]

    def click(self, x: float, y: float) -> None:
        self.page.mouse.click(*self.at(x, y))

    def save(self) -> None:
        self.page.locator("#save").click()
        expect(self.page.locator("#unsaved")).to_contain_text("everything is saved")


@pytest.fixture
def desk(browser: Browser, served: Served) -> Iterator[Visit]:
    visit = Visit(browser, served, DESK)
    yield visit
    visit.context.close()
    assert [said for said in visit.said if "409" not in said] == []


def drawn(visit: Visit, served: Served, key: str, corners: list[tuple[float, float]]) -> str:
    """Draws with a tool and saves; the new thing's id."""
    before = set(served.ground())
    visit.page.keyboard.press(key)
    for corner in corners:
        visit.click(*corner)
    if len(corners) > 1:
        visit.page.keyboard.press("Enter")
    expect(visit.page.locator("#form")).to_be_visible()
    visit.page.locator("#close").click()
    visit.save()
    (new,) = set(served.ground()) - before
    return new


def test_every_role_is_drawn_saved_and_still_there_after_a_reload(
    desk: Visit, served: Served
) -> None:
    line, area = [(0.15, 0.2), (0.25, 0.25)], [(0.1, 0.6), (0.2, 0.6), (0.2, 0.7)]
    made = {}
    for key, role, corners in (
        ("t", "tree", area[:1]), ("p", "pole", line[:1]), ("o", "place", area[2:]),
        ("l", "wire", line), ("f", "people", line), ("w", "wood", area), ("b", "building", area),
        ("k", "keep-out", area), ("n", "wildlife", area), ("a", "water", area),
        ("y", "surveyed", area), ("r", "ride", [(0.5, 0.2), (0.5, 0.5), (0.52, 0.8)]),
    ):  # fmt: skip
        if role == "ride":  # the drawn ride is offered first; a new one is drawn beside it
            desk.page.keyboard.press("r")
            expect(desk.page.locator("#form h2")).to_have_text("line")
            continue
        made[role] = drawn(desk, served, key, corners)
    ground = served.ground()
    for role, name in made.items():
        assert ground[name]["properties"]["role"] == role
    assert ground[made["wood"]]["geometry"]["type"] == "Polygon"
    assert len(ground[made["wire"]]["geometry"]["coordinates"]) == 2
    outing = read(served.site)
    assert outing.site.launch is not None
    desk.page.reload()
    desk.ready()
    listed = desk.page.locator("#things option").evaluate_all("all => all.map(it => it.value)")
    assert set(made.values()) <= set(listed)
    for name in made.values():  # take away again, one step each; undo brings one back
        desk.page.select_option("#things", name)
        desk.page.locator("#delete").click()
    desk.page.locator("#undo").click()
    desk.page.locator("#redo").click()
    desk.save()
    assert not set(made.values()) & set(served.ground())


def test_a_form_changes_a_number_undo_names_it_and_a_bad_one_is_said(
    desk: Visit, served: Served
) -> None:
    page = desk.page
    page.select_option("#things", "oak")
    expect(page.locator("#form h2")).to_have_text(HOSTILE)
    page.fill("#field-height_m", "11,5")
    page.keyboard.press("Tab")
    expect(page.locator("#unsaved")).to_contain_text("1 change not saved")
    expect(page.locator("#undo")).to_contain_text("undo: changed")
    page.fill("#field-height_m", "tall")
    page.keyboard.press("Tab")
    expect(page.locator("#field-height_m")).to_have_attribute("aria-invalid", "true")
    page.fill("#field-height_m", "0.01")
    page.keyboard.press("Tab")
    page.fill("#field-base_m", "7")
    page.keyboard.press("Tab")
    expect(page.locator("#wrong")).to_contain_text("not below height_m", timeout=SLOW_MS)
    page.locator("#close").click()
    expect(page.locator("#shots .wrong")).to_contain_text("oak")
    while page.locator("#undo").is_enabled():
        page.locator("#undo").click()
    expect(page.locator("#unsaved")).to_contain_text("everything is saved")
    assert page.title().startswith("Heath <img")
    assert page.locator("img[src='x'], svg[onload]").count() == 0


def test_a_slider_moves_the_word_and_saving_keeps_the_comment(desk: Visit, served: Served) -> None:
    page = desk.page
    said = page.locator("#told .proof")
    expect(said).to_have_text("Your ride alone, not proved.", timeout=SLOW_MS)
    page.locator("#slide-distance_m").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    expect(page.locator("#number-distance_m")).to_have_value("13")
    expect(said).to_have_text("Your ride alone, not proved.", timeout=SLOW_MS)
    assert page.locator("#undo").get_attribute("aria-label") == "undo: changed along, distance"
    assert page.locator(".slider").first.locator(".flown i").count() >= 2
    page.locator("#prove").click()
    expect(said).to_contain_text("Proved over", timeout=SLOW_MS)
    desk.save()
    assert served.toml()["shot"][0]["distance_m"] == 13.0
    assert "# the first\n[[shot]]" in (served.site / "site.toml").read_text("utf-8")
    assert (served.site / "site.toml.before").exists()
    page.locator("#undo").click()
    expect(page.locator("#number-distance_m")).to_have_value("12")
    desk.save()
    assert served.toml()["shot"][0]["distance_m"] == 12.0


def test_what_an_editor_wrote_is_noticed_and_not_overwritten(desk: Visit, served: Served) -> None:
    page, path = desk.page, served.site / "site.toml"
    page.select_option("#things", "oak")
    page.fill("#field-radius_m", "3.5")
    page.keyboard.press("Tab")
    before = path.read_text("utf-8")
    theirs = before.replace("distance_m = 12.0", "distance_m = 21.0") + "# an editor was here\n"
    path.write_text(theirs, encoding="utf-8")
    page.locator("#save").click()
    expect(page.locator(".conflict")).to_contain_text("site.toml was changed elsewhere")
    assert path.read_text("utf-8") == theirs
    page.locator("#show-both").click()
    expect(page.locator("#both")).to_contain_text("oak: differs")
    expect(page.locator("#both")).to_contain_text("shot along: differs")
    page.locator("#take-theirs").click()
    expect(page.locator("#number-distance_m")).to_have_value("21")
    expect(page.locator("#unsaved")).to_contain_text("everything is saved")
    page.locator("#undo").click()  # mine are not lost
    expect(page.locator("#number-distance_m")).to_have_value("12")
    desk.save()
    assert served.toml()["shot"][0]["distance_m"] == 12.0
    assert served.ground()["oak"]["properties"]["radius_m"] == 3.5
    assert "# an editor was here" in path.read_text("utf-8")
    assert (served.site / "site.toml.before").read_text("utf-8") == theirs


def test_the_keyboard_alone_places_moves_and_saves(desk: Visit, served: Served) -> None:
    page, before = desk.page, set(served.ground())
    page.keyboard.press("t")
    expect(page.locator("#cross")).to_be_visible()
    page.keyboard.press("ArrowLeft")  # the map moves under the cross
    page.wait_for_timeout(400)
    page.keyboard.press("Space")
    expect(page.locator("#form")).to_be_visible()
    page.locator(".handle.ring").focus()
    page.keyboard.press("Control+s")
    expect(page.locator("#unsaved")).to_contain_text("everything is saved")
    (new,) = set(served.ground()) - before
    was = served.ground()[new]["geometry"]["coordinates"]
    page.locator(".handle.ring").focus()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Shift+ArrowUp")
    page.keyboard.press("Control+s")
    expect(page.locator("#unsaved")).to_contain_text("everything is saved")
    now = served.ground()[new]["geometry"]["coordinates"]
    assert (now[1] - was[1]) * 111_200 == pytest.approx(5.5, abs=0.1)
    assert now[0] == pytest.approx(was[0], abs=1e-7)
    page.keyboard.press("Escape")
    page.select_option("#things", new)
    page.locator("#map").focus()
    page.keyboard.press("Delete")
    page.keyboard.press("Control+s")
    expect(page.locator("#unsaved")).to_contain_text("everything is saved")
    assert set(served.ground()) == before


def test_by_touch_at_390_px(browser: Browser, served: Served) -> None:
    visit = Visit(browser, served, PHONE)
    page, before = visit.page, set(served.ground())
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.locator("#tool-people").tap()
    page.touchscreen.tap(*visit.at(0.3, 0.4))
    page.touchscreen.tap(*visit.at(0.6, 0.5))
    page.locator("#done").tap()
    expect(page.locator("#form")).to_be_visible()
    small = [t for t in page.evaluate(TARGETS) if min(t[1:]) < LEAST_PX - 0.5]
    assert small == []
    page.locator("#save").tap()
    expect(page.locator("#unsaved")).to_contain_text("everything is saved")
    (new,) = set(served.ground()) - before
    assert served.ground()[new]["geometry"]["type"] == "LineString"
    page.locator("#delete").tap()
    page.locator("#save").tap()
    expect(page.locator("#unsaved")).to_contain_text("everything is saved")
    assert set(served.ground()) == before
    visit.context.close()
    assert visit.said == []


ATTACK = """<!doctype html><title>other</title><form id="f" method="post" enctype="text/plain"
 action="{at}save"><input name='{{"base":"x","a":"' value='"}}'></form><script>
async function tries(at) {{
  var found = {{}};
  async function one(name, f) {{ try {{ found[name] = String(await f()); }}
    catch (e) {{ found[name] = "refused"; }} }}
  await one("read", () => fetch(at + "state").then(r => r.text()));
  await one("blind", () => fetch(at + "state", {{mode: "no-cors"}}).then(r => r.type + r.status));
  await one("post", () => fetch(at + "save", {{method: "POST", body: "{{}}",
    headers: {{"content-type": "application/json"}}}}).then(r => r.text()));
  await one("post blind", () => fetch(at + "save", {{method: "POST", mode: "no-cors",
    body: '{{"changes":{{"removed":["oak"]}}}}'}}).then(r => r.type + r.status));
  await one("script", () => new Promise((yes, no) => {{ var s = document.createElement("script");
    s.onload = () => yes("loaded"); s.onerror = no; s.src = at + "main.js"; s.type = "module";
    document.head.append(s); }}));
  await one("frame", () => new Promise(yes => {{ var f = document.createElement("iframe");
    f.onload = () => {{ try {{ yes(f.contentDocument.body.textContent); }}
      catch (e) {{ yes("closed"); }} }}; f.src = at; document.body.append(f); }}));
  return found;
}}
</script>"""


def test_a_second_page_can_neither_read_nor_write(
    browser: Browser, served: Served
) -> None:  # fmt: skip
    """Another port of the same machine, and it even knows the whole address."""
    page_text = ATTACK.format(at=served.address).encode("utf-8")

    class Other(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.end_headers()
            self.wfile.write(page_text)

        def log_message(self, format: str, *args: Any) -> None:
            """Says nothing."""

    server = HTTPServer(("127.0.0.1", 0), Other)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    before = {p.name: p.read_bytes() for p in served.site.iterdir()}
    page = browser.new_page()
    answered: dict[str, set[int]] = {}
    page.on("response", lambda it: answered.setdefault(it.url, set()).add(it.status))
    page.goto(f"http://127.0.0.1:{server.server_port}/")
    found = page.evaluate("at => tries(at)", served.address)
    assert found["read"] == found["post"] == found["script"] == "refused"
    assert found["frame"] == "closed"
    assert "oak" not in json.dumps(found)
    page.evaluate("document.getElementById('f').submit()")
    page.wait_for_url(f"{served.address}**")
    assert "oak" not in page.content()
    assert {p.name: p.read_bytes() for p in served.site.iterdir()} == before
    own = {url: codes for url, codes in answered.items() if url.startswith(served.address)}
    assert own
    assert not any(code == 200 for codes in own.values() for code in codes)
    page.close()
    server.shutdown()
    server.server_close()
