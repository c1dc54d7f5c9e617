"""The map in a real browser: it stands, and no name in it runs."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from shotplan.output.map import live as live_map
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan

QUIET = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--enable-logging=stderr",
    "--v=0",
    "--virtual-time-budget=8000",
    "--window-size=500,900",
]
# Taps everything that tells something, opens the layer list, and counts what it sees.
VISIT = """
var told = [];
map_00001.eachLayer(function (layer) {
  if (layer.feature && layer.listens("click")) {
    var at = layer.getBounds ? layer.getBounds().getCenter() : layer.getLatLng();
    layer.fire("click", {latlng: at});
    told.push(document.getElementById("sheet").textContent);
  }
});
var seen = document.createElement("pre");
seen.id = "seen";
seen.textContent = JSON.stringify({
  told: told, images: document.images.length, scripts: document.scripts.length,
  listed: Array.from(document.querySelectorAll(".leaflet-control-layers label"))
    .map(function (l) { return l.textContent; })
});
document.body.appendChild(seen);
"""


def visit(chromium: str, page: str, folder: Path) -> tuple[str, str]:
    """The page after its scripts ran, and what the console said."""
    path = folder / "map.html"
    path.write_text(page, encoding="utf-8")
    ended = subprocess.run(
        [chromium, *QUIET, f"--user-data-dir={folder / 'profile'}", "--dump-dom", path.as_uri()],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    console = "\n".join(line for line in ended.stderr.splitlines() if "CONSOLE" in line)
    return ended.stdout, console


@pytest.mark.browser
def test_the_live_map_stands_and_nothing_runs(chromium: str, tmp_path: Path) -> None:
    page = live_map.html(made_plan(site_name=EVERY, shot_name=EVERY, tree_name=EVERY))
    dom, console = visit(chromium, page, tmp_path)
    assert console == ""
    assert '<html lang="en" class="live">' in dom
    assert "leaflet-interactive" in dom
    title = re.search(r"<title>(.*?)</title>", dom)
    assert title is not None
    assert "mirrored" in title[1]
    assert '<img src="x"' not in dom
    assert "<svg onload" not in dom


@pytest.mark.browser
def test_every_tap_shows_names_as_text(chromium: str, tmp_path: Path) -> None:
    """The policy is taken off and everything tapped: even then nothing runs."""
    page = live_map.html(made_plan(site_name=EVERY, shot_name=EVERY, tree_name=EVERY))
    page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    page = page.replace("</body>", f"<script>{VISIT}</script></body>")
    dom, console = visit(chromium, page, tmp_path)
    assert console == ""
    seen = re.search(r'<pre id="seen">(.*?)</pre>', dom, re.DOTALL)
    assert seen is not None
    assert "onerror=document.title" in seen[1]
    assert '"scripts":8' in seen[1]  # the page's own six, the words, and this visit
    assert "sheet 0" not in seen[1]
    title = re.search(r"<title>(.*?)</title>", dom)
    assert title is not None
    assert title[1] != "ran"
    assert '<img src="x"' not in dom


@pytest.mark.browser
def test_where_the_live_map_fails_the_picture_is_shown(chromium: str, tmp_path: Path) -> None:
    page = re.sub(
        r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", live_map.html(made_plan())
    )
    broken = page.replace("var map_00001 = L.map(", "var map_00001 = L.gone(")
    assert broken != page
    dom, _ = visit(chromium, broken, tmp_path)
    assert '<html lang="en" class="">' in dom
