"""The panel: no name in its page, its script and its twin agree, and it works in a browser."""

from __future__ import annotations

import dataclasses
import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.judging.judged import Plan
from shotplan.model.verdict import Verdict
from shotplan.output.map import live as live_map
from shotplan.output.map import recheck
from shotplan.output.map.page import own
from tests.output import recheck_twin as twin
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan
from tests.output.recheck_twin import Entry
from tests.output.test_browser import visit

ENTRIES = 400


@pytest.fixture(scope="module")
def table() -> dict[str, Any]:
    """The block of a plan, as it comes out of the page."""
    found: dict[str, Any] = json.loads(json.dumps(recheck.block(made_plan(rides=2))))["recheck"]
    return found


def test_what_the_block_holds(table: dict[str, Any]) -> None:
    assert table["words"] == ["go", "caution", "unknown", "no-go"]
    plan = made_plan(rides=2)
    assert [s["word"] for s in table["shots"]] == [int(s.verdict) for s in plan.shots]
    for shot in table["shots"]:
        assert len(shot["times"]) == 2 * table["reach"] / table["step"] + 1
        for height in ("open", "hand"):
            assert len(shot[height]) == 16
            assert {len(s) for s in shot[height]} == {15 * shot["gusts"]}
            assert set("".join(shot[height])) <= set("0123")
        for thing, near, far, least, most in shot["pace"]:
            assert 0 <= thing < len(table["things"])
            assert near <= far
            assert most is None or least <= most + 0.2


def test_only_ever_tighter_and_unknown_outside(table: dict[str, Any]) -> None:
    (shot, *_) = table["shots"]
    easy = {**shot, "word": 0}
    full: dict[str, Any] = {"side": 0, "mean": 1.0, "gust": 1.5}
    for entry, least in (
        (Entry(side=0, mean=1.0), Verdict.UNKNOWN),  # no gust
        (Entry(mean=1.0, gust=2.0), Verdict.UNKNOWN),  # no side
        (Entry(**{**full, "mean": float("nan")}), Verdict.UNKNOWN),
        (Entry(**{**full, "mean": -1.0}), Verdict.UNKNOWN),
        (Entry(**{**full, "gust": 22.5}), Verdict.UNKNOWN),
        (Entry(**{**full, "mean": 30.0}), Verdict.UNKNOWN),
        (Entry(time=shot["start"] + 181.0), Verdict.UNKNOWN),
        (Entry(time=float("nan")), Verdict.UNKNOWN),
    ):
        paced = [None] * len(table["things"])
        said = twin.word(table, easy, Entry(**{**vars(entry), "paced": paced}))
        assert said >= least, entry
    worst = {**shot, "word": int(Verdict.NO_GO)}
    assert twin.word(table, worst, Entry(**full, paced=[None] * len(table["things"]))) == 3


def asked(table: dict[str, Any], entries: list[Entry], folder: Path) -> Any:
    """What the script says of each entry and shot, run by node."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("no node on this machine (apt-get install nodejs)")
    script, given = folder / "recheck.js", folder / "asked.json"
    script.write_text(own("recheck.js"), encoding="utf-8")
    given.write_text(json.dumps([table, [e.json() for e in entries]]), encoding="utf-8")
    run = (
        f"const [t, es] = JSON.parse(require('fs').readFileSync({json.dumps(str(given))}));"
        f"const rule = require({json.dumps(str(script))});"
        "console.log(JSON.stringify(es.map(e => t.shots.map(s => rule.shot(t, s, e)))));"
    )
    ended = subprocess.run(
        [node, "-e", run], capture_output=True, text=True, timeout=60, check=True
    )
    return json.loads(ended.stdout)


def test_the_script_says_what_its_twin_says(table: dict[str, Any], tmp_path: Path) -> None:
    """On entries inside the table, on its edges and outside."""
    rng = np.random.default_rng(11)
    entries = [_entry(rng, table) for _ in range(ENTRIES)]
    expected = [[twin.word(table, s, e) for s in table["shots"]] for e in entries]
    told = asked(table, entries, tmp_path)
    assert [[shot["code"] for shot in row] for row in told] == expected
    assert len({code for row in expected for code in row}) > 1


def _entry(rng: np.random.Generator, table: dict[str, Any]) -> Entry:
    def maybe(value: float) -> float | None:
        return None if rng.random() < 0.3 else round(float(value), 1)

    return Entry(
        side=None if rng.random() < 0.2 else int(rng.integers(16)),
        mean=maybe(rng.uniform(-1.0, 18.0)),
        gust=maybe(rng.uniform(-1.0, 26.0)),
        height=str(rng.choice(["open", "hand"])),
        time=maybe(float(rng.integers(0, 1440))),
        paced=[maybe(rng.uniform(-1.0, 40.0)) for _ in table["things"]],
    )


def test_names_stay_text() -> None:
    plan = made_plan(shot_name=EVERY, tree_name=EVERY)
    assert "<img" not in recheck.section(plan)
    assert "innerHTML" not in own("recheck.js")
    page = live_map.html(plan)
    assert page.count('<section id="recheck"') == 1
    assert "recheckShot" in page


# Enters a gale, then half a wind, then an hour, as taps and typing do, and tells what is said.
VISIT = """
function enter(id, value) {
  var field = document.getElementById("recheck-" + id);
  field.value = value;
  field.dispatchEvent(new Event("input", {bubbles: true}));
}
var seen = document.createElement("pre"), words = document.getElementById("recheck-words");
seen.id = "seen";
var told = [words.textContent];
document.querySelector("#recheck [data-side='4']").click();
enter("mean", "9,0"); enter("gust", "16");
told.push(words.textContent, document.getElementById("recheck-force").textContent);
enter("gust", ""); told.push(words.textContent);
document.getElementById("recheck-none").click();
enter("time", "03:00"); told.push(words.textContent);
seen.textContent = JSON.stringify(told);
document.body.appendChild(seen);
"""


@pytest.mark.browser
def test_the_panel_in_a_browser(chromium: str, tmp_path: Path) -> None:
    """Also where the live map fails."""
    page = re.sub(
        r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", live_map.html(easy_plan())
    )
    page = page.replace("var map_00001 = L.map(", "var map_00001 = L.gone(")
    page = page.replace("</body>", f"<script>{VISIT}</script></body>")
    dom, _ = visit(chromium, page, tmp_path)
    found = re.search(r'<pre id="seen">(.*?)</pre>', dom, re.DOTALL)
    assert found is not None
    plain, gale, force, half, night = json.loads(found[1])
    assert plain == "Agonothing found against it"
    assert gale == "Ano-gotoo much wind from there"
    assert "force 5" in force
    assert half == "Aunknownenter the gusts"
    assert night == "Aunknownnot computed for this hour: plan again with it"


def easy_plan() -> Plan:
    """One shot that is go."""
    plan = made_plan(rides=2)
    shot = plan.shots[1]
    found = tuple(dataclasses.replace(f, verdict=Verdict.GO, also=()) for f in shot.findings)
    easy = dataclasses.replace(shot, verdict=Verdict.GO, findings=found)
    return dataclasses.replace(plan, shots=(easy,), verdict=Verdict.GO)


def test_each_unknown_has_a_reason(table: dict[str, Any], tmp_path: Path) -> None:
    """Whatever is entered: some part has the shot's code, and says why unless it is go."""
    rng = np.random.default_rng(12)
    told = asked(table, [_entry(rng, table) for _ in range(ENTRIES)], tmp_path)
    for shots in told:
        for found in shots:
            why = [why for _, code, why in found["parts"] if code == found["code"]]
            assert why
            assert found["code"] == Verdict.GO or all(why)


def test_where_nobody_holds_people_back_it_is_unknown(tmp_path: Path) -> None:
    plan = easy_plan()
    path = dataclasses.replace(plan.outing.site.people[0], state="held", held_by="Sem")
    site = dataclasses.replace(plan.outing.site, people=(path,))
    held = dataclasses.replace(plan, outing=dataclasses.replace(plan.outing, site=site))
    table: dict[str, Any] = json.loads(json.dumps(recheck.block(held)))["recheck"]
    assert table["held"] == [{"name": "coast path", "by": "Sem"}]
    paced = [None] * len(table["things"])
    for stands, word in ((True, Verdict.GO), (False, Verdict.UNKNOWN)):
        entry = Entry(paced=paced, held=[stands])
        ((found,),) = asked(table, [entry], tmp_path)
        assert found["code"] == twin.word(table, table["shots"][0], entry) == word
