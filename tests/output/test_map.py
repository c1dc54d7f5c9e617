from __future__ import annotations

import base64
import hashlib
import json
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

from shotplan.model.verdict import Verdict
from shotplan.output import look
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
            assert attributes.get(name, "data:").startswith("data:"), (tag, attributes)
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
