from __future__ import annotations

import base64
import dataclasses
import datetime as dt
import hashlib
import json
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from shotplan.model.judged import Remark
from shotplan.model.rules import Reminder
from shotplan.model.timeline import Slot
from shotplan.model.verdict import Verdict
from shotplan.output import drawing, legend, look
from shotplan.output import map as live_map
from tests.output.hostile import EVERY, NAMES
from tests.output.made_plan import made_plan


@pytest.fixture(scope="module")
def plain_page() -> str:
    return live_map.html(made_plan(hilly=True))


@pytest.fixture(scope="module")
def hostile_page() -> str:
    return live_map.html(made_plan(site_name=EVERY, shot_name=EVERY, tree_name=EVERY))


class Elements(HTMLParser):
    """Start tags with attributes, and the text of script and style elements."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.raw: list[tuple[str, dict[str, str], str]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {k: v or "" for k, v in attrs}))

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1][0] in {"script", "style"} and self.cdata_elem:
            tag, attributes = self.tags[-1]
            self.raw.append((tag, attributes, data))


def test_nothing_is_fetched(plain_page: str) -> None:
    found = Elements(plain_page)
    for tag, attributes in found.tags:
        for name in ("src", "href", "action", "data"):
            target = attributes.get(name, "data:")
            within = tag == "a" and re.fullmatch(r"#shot-[A-Z]+", target)
            assert target.startswith("data:") or within, (tag, attributes)
        assert not any(name.startswith("on") for name in attributes)
    assert not re.search(r"""(?:src|href)\s*=\s*["']?https?:""", plain_page)
    assert not re.search(r"url\(\s*[\"']?(?!data:|#)", plain_page)
    assert "sourceMappingURL" not in plain_page


def test_every_script_and_style_is_under_the_policy(hostile_page: str) -> None:
    found = Elements(hostile_page)
    policy = next(
        a["content"] for t, a in found.tags if a.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy.startswith("default-src 'none'; img-src data:;")
    assert "unsafe" not in policy
    joined: dict[int, tuple[str, str]] = {}
    for tag, attributes, text in found.raw:
        if attributes.get("type") == "application/json":
            continue
        key = id(attributes)
        joined[key] = (tag, joined.get(key, (tag, ""))[1] + text)
    assert {tag for tag, _ in joined.values()} == {"script", "style"}
    for _, text in joined.values():
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in policy


def test_folium_is_given_no_name(hostile_page: str) -> None:
    script = max(
        (text for tag, a, text in Elements(hostile_page).raw if tag == "script" and not a),
        key=lambda text: text.count("geo_json_"),
    )
    assert "L.geoJson" in script
    assert "onerror" not in script
    assert "mirrored" not in script
    assert "{{ 7*7 }}" not in script
    assert "{{ 7*7 }}{% raw %}${7*7}`${7*7}`" in hostile_page


def test_hostile_names_are_text_only(hostile_page: str) -> None:
    tags = [t for t, _ in Elements(hostile_page).tags]
    assert tags.count("img") == 1
    assert tags.count("script") == 5
    assert "onerror=document" not in hostile_page.replace("&#x27;", "'").replace(
        "&lt;img src=x onerror=document", ""
    ).replace("\\u003cimg src=x onerror=document", "")
    assert "\x1b" not in hostile_page


def test_the_words_of_the_live_map_are_one_block(hostile_page: str) -> None:
    texts = [
        text for _, a, text in Elements(hostile_page).raw if a.get("type") == "application/json"
    ]
    block = json.loads("".join(texts))
    assert any(NAMES[0] in title for title, _ in block["infos"])
    assert NAMES[0] in block["shots"][0]["title"]
    assert not set("<>&\u2028\u2029") & set("".join(texts))


def test_it_is_small_and_says_the_verdict_in_words(plain_page: str) -> None:
    assert len(plain_page.encode()) < 1_500_000
    assert re.search(r"<h1>Gull Scarp <span class=\"chip no-go\">no-go</span>", plain_page)
    assert 'name="viewport" content="width=device-width' in plain_page


def test_many_trees_stay_small() -> None:
    page = live_map.html(made_plan(trees=1400))
    assert len(page.encode()) < 1_500_000


def test_every_look_on_the_map_is_in_the_legend(plain_page: str) -> None:
    for key in ("tree", "wood", "wire", "keep-out", "people", "boundary", "blind", "track-no-go"):
        assert look.LOOKS[key].says in plain_page


def test_verdicts_differ_in_line_as_well_as_in_colour() -> None:
    lines = {v: (it.width, it.dash) for v, it in look.VERDICTS.items()}
    assert set(lines) == set(Verdict)
    assert len(set(lines.values())) == len(lines)


def test_the_same_plan_gives_the_same_bytes_in_another_process(tmp_path: Path) -> None:
    code = (
        "import sys; from tests.output.made_plan import made_plan; "
        "from shotplan.output import map as m; "
        "sys.stdout.buffer.write(m.html(made_plan(hilly=True)).encode())"
    )
    root = Path(__file__).resolve().parents[2]
    pages = [
        subprocess.run(
            [sys.executable, "-c", code], cwd=root, capture_output=True, check=True
        ).stdout
        for _ in range(2)
    ]
    assert len(pages[0]) > 100_000
    assert pages[0] == pages[1]


def test_a_tap_tells_what_binds() -> None:
    plan = made_plan()
    texts = [
        text
        for _, a, text in Elements(live_map.html(plan)).raw
        if a.get("type") == "application/json"
    ]
    rows = json.loads("".join(texts))["shots"][0]["rows"]
    words_at = {row[2]: (row[7], row[8], row[9]) for row in rows}
    assert words_at[24.6][0] == "no-go"
    assert words_at[24.6][2] == "clearance: 0.0 m, needs 2.2 m, tree-04"
    assert {row[8] for row in rows} == {0, 1}
    assert rows[-1][7] == "unknown"


def test_north_and_the_wind_are_on_the_live_map(plain_page: str) -> None:
    # The made plan's wind comes from 250° and so blows toward 70°.
    assert 'transform="rotate(70.0)"' in plain_page
    assert "wind from WSW, 5 m/s" in plain_page
    assert "</svg>north<" in plain_page


def test_who_stands_where_is_named_on_the_live_map(plain_page: str) -> None:
    texts = [t for _, a, t in Elements(plain_page).raw if a.get("type") == "application/json"]
    titles = [title for title, _ in json.loads("".join(texts))["infos"]]
    assert "launch: Sem, pilot" in titles


def test_the_first_lines_are_the_shots_and_the_law_comes_last(plain_page: str) -> None:
    header, _, after = plain_page.partition("</header>")
    assert re.search(r'<a href="#shot-A">.*no-go.*clearance: tree-04', header)
    assert 'href="#shot-B"' in header
    assert "Open category, A1" not in header
    assert 'id="shot-A"' in after
    assert after.index("Before you fly") < after.index("Open category, A1")
    assert after.index("On what was read") < after.index("Open category, A1")


def test_all_but_three_reminders_are_folded() -> None:
    plan = made_plan()
    five = tuple(Reminder(text=f"Mind {i}.", source="made", known="read") for i in range(5))
    rules = dataclasses.replace(plan.outing.rules, reminders=five)
    outing = dataclasses.replace(plan.outing, rules=rules)
    page = live_map.html(dataclasses.replace(plan, outing=outing))
    shown, _, folded = page.partition("<summary>2 more</summary>")
    assert all(f"Mind {i}." in shown for i in (0, 1, 2))
    assert all(f"Mind {i}." in folded for i in (3, 4))


def test_the_day_in_order_is_on_the_page() -> None:
    plan = made_plan()
    start = plan.outing.day.start
    take = Slot("take", 0, 1, start, start + dt.timedelta(minutes=1), 1)
    page = live_map.html(dataclasses.replace(plan, timeline=(take,)))
    assert "The day, in order" in page
    assert "<li>20:10 to 20:11  A, take 1, battery 1</li>" in page


def test_combined_cautions_and_what_is_also_no_go_are_not_folded() -> None:
    plan = made_plan()
    shot = plan.shots[0]
    also = Remark("also no-go: the hut is near; stay off")
    found = dataclasses.replace(shot.findings[0], remarks=(also, *shot.findings[0].remarks))
    changed = dataclasses.replace(
        shot, combined="2 kinds of caution", findings=(found, *shot.findings[1:])
    )
    page = live_map.html(dataclasses.replace(plan, shots=(changed,)))
    section = page[page.index('<section id="shot-A">') :]
    seen = section[: section.index("<details")]
    assert "2 kinds of caution" in seen
    assert "also no-go: the hut is near" in seen
    assert "the limit of 2.18 m" not in seen
    assert "the limit of 2.18 m" in section


def test_no_go_carries_crosses_and_go_none() -> None:
    plan = made_plan()
    sheets = drawing.sheets(plan, drawing.whole(plan), ())
    crosses = [s for s in sheets[-2].shapes if s.look == "cross"]
    path, code = plan.shots[0].scene.track.xyz_m[0, :, :2], plan.shots[0].sample_verdict
    assert crosses
    for shape in crosses:
        nearest = int(np.linalg.norm(path - shape.parts[0][0], axis=1).argmin())
        assert code[nearest] == Verdict.NO_GO


def test_samples_of_the_legend_differ() -> None:
    samples = re.findall(r"<li>(<svg.*?</svg>)", legend.html({*look.LOOKS, *look.MARKS}, 0))
    assert len(samples) >= 25
    assert len(set(samples)) == len(samples)
