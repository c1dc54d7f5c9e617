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
from typing import Any

import numpy as np
import pytest

from shotplan.checks import fall, return_
from shotplan.judging.judged import Also, Finding, Plan, Spot
from shotplan.model.rules import Reminder
from shotplan.model.verdict import Verdict
from shotplan.output import look
from shotplan.output.map import compass, drawing, flights, legend, overlays, page, slider_rows
from shotplan.output.map import live as live_map
from shotplan.output.map.shapes import simplified
from shotplan.output.watch import watched
from shotplan.scene.margin import Drawing
from shotplan.scene.timeline import Slot
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
            within = tag == "a" and re.fullmatch(r"#(shot-[A-Z]+|top|recheck|told)", target)
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
    assert tags.count("img") == 0
    assert tags.count("script") == 7
    assert "onerror=document" not in hostile_page.replace("&#x27;", "'").replace(
        "&lt;img src=x onerror=document", ""
    ).replace("\\u003cimg src=x onerror=document", "")
    assert "\x1b" not in hostile_page


def test_the_words_of_the_live_map_are_one_block(hostile_page: str) -> None:
    texts = [
        text for _, a, text in Elements(hostile_page).raw if a.get("type") == "application/json"
    ]
    block = json.loads("".join(texts))
    assert any(NAMES[0] in title for title, *_ in block["infos"])
    assert any(NAMES[0] in name for _, _, name, _ in block["infos"])
    assert NAMES[0] in block["shots"][0]["title"]
    assert not set("<>&\u2028\u2029") & set("".join(texts))


def test_it_is_small_and_says_the_verdict_in_words(plain_page: str) -> None:
    assert len(plain_page.encode()) < 1_200_000
    assert re.search(r"<h1>Gull Scarp <span class=\"chip no-go\">no-go</span>", plain_page)
    assert 'name="viewport" content="width=device-width' in plain_page


def test_many_trees_stay_small() -> None:
    page = live_map.html(made_plan(trees=1400))
    assert len(page.encode()) < 1_200_000


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
        "from shotplan.output.map import live as m; "
        "sys.stdout.buffer.write(m.html(made_plan(hilly=True)).encode())"
    )
    root = Path(__file__).resolve().parents[3]
    pages = [
        subprocess.run(
            [sys.executable, "-c", code], cwd=root, capture_output=True, check=True
        ).stdout
        for _ in range(2)
    ]
    assert len(pages[0]) > 100_000
    assert pages[0] == pages[1]


def block_of(plan: Plan) -> dict[str, Any]:
    """What the page is told, as it reads it."""
    told = slider_rows.block(plan.shots, plan.outing.site.frame)
    block: dict[str, Any] = json.loads(page.json_block(told))
    return block


def rows_of(block: dict[str, Any], shot: int) -> list[dict[str, Any]]:
    """The rows of a shot by the names of their columns, numbers of texts looked up."""
    found = block["shots"][shot]
    rows = [dict(zip(block["columns"], row, strict=True)) for row in found["rows"]]
    for row in rows:
        row["verdict"] = block["verdicts"][row["verdict"]]
        for name in ("seen", "nearest", "binds"):
            row[name] = found["says"][row[name]]
    return rows


def test_a_moment_tells_what_binds() -> None:
    rows = rows_of(block_of(made_plan()), 0)
    at = {row["t"]: row for row in rows}
    assert at[24.6]["verdict"] == "no-go"
    assert at[24.6]["binds"] == "clearance: 0.0 m, needs 2.2 m, tree-04"
    assert at[24.6]["nearest"] == "tree-04, 0.0 m"
    assert {row["blind"] for row in rows} == {0, 1}
    assert rows[-1]["verdict"] == "unknown"
    assert rows[-1]["binds"].startswith("clearance: as far as known ")


def test_a_moment_is_where_the_track_is() -> None:
    """East, north and azimuth of the rows against the scene itself, through the frame."""
    plan = made_plan()
    block = block_of(plan)
    scene = plan.shots[1].scene
    track, frame = scene.track, plan.outing.site.frame
    for row in rows_of(block, 1):
        i = round(row["t"] * 10)
        for name, xy in (("", track.xyz_m), ("rider_", track.ride.xyz_m)):
            offset = np.array([row[f"{name}east"], row[f"{name}north"]]) * 1e-7
            away = frame.xy_m(np.array(block["origin"]) + offset) - xy[0, i, :2]
            assert np.linalg.norm(away) < 0.02
        assert row["azimuth"] == pytest.approx(np.degrees(track.heading_rad[0, i]) % 360, abs=0.5)
        # 14 m abeam and 14 m up; the camera aims 1 m above the ground under the rider.
        assert row["away"] == pytest.approx(np.hypot(14.0, 13.0), abs=0.051)
        assert row["speed"] == 6.0
        assert row["above_launch"] == 14.0


def test_thinning_keeps_every_change_of_verdict_and_every_pin() -> None:
    plan = made_plan()
    for index, shot in enumerate(plan.shots):
        kept = {round(row["t"] * 10) for row in rows_of(block_of(plan), index)}
        changes = np.flatnonzero(np.diff(shot.sample_verdict)) + 1
        pins = [f.at.sample for f in shot.findings if f.at is not None]
        assert {*changes.tolist(), *pins} <= kept
        assert len(kept) < 0.7 * len(shot.sample_verdict)


def test_it_says_who_sees_it_and_whose_sight_counts() -> None:
    rows = rows_of(block_of(made_plan()), 0)
    eye = made_plan().outing.site.places["launch"].xyz_m + np.array([0.0, 0.0, 1.6])
    away = np.linalg.norm(made_plan().shots[0].scene.track.xyz_m[0, 0] - eye)
    assert rows[0]["seen"] == f"Sem sees it, {away:.0f} m away"


def test_at_first_sight_two_pins_of_a_shot_and_the_rest_from_near() -> None:
    plan = made_plan()
    spread = [
        dataclasses.replace(f, verdict=Verdict.CAUTION, at=moved(f, 100 * k))
        for k, f in enumerate(plan.shots[0].findings)
    ]
    shot = dataclasses.replace(plan.shots[0], findings=tuple(spread))
    pins = [s for s in flights.shapes(shot, 0, 1.0) if s.look.startswith("pin-")]
    assert [p.near for p in pins] == [False, False, True]


def moved(found: Finding, sample: int) -> Spot:
    """The finding's place moved along the ride."""
    assert found.at is not None
    return found.at._replace(sample=sample, xyz_m=(float(sample), 0.0, 90.0))


def test_layers_are_in_plain_words_from_the_ground_up() -> None:
    plan = made_plan()
    sheets = drawing.sheets(plan, drawing.whole(plan), ())
    assert [(s.title, s.on) for s in sheets] == [
        ("ground, heights, water", True),
        ("trees, buildings, wires", True),
        ("people, keep-outs, boundary", True),
        ("the ride, launch, stands", True),
        ("where it may come down", False),
        ("where it flies over all rides", False),
        ("the way home, left alone", False),
        ("what Sem sees", False),
        ("A: rim, from the sea side", True),
        ("B: from the land side", True),
        ("what else the checks draw", True),
        ("last calls", True),
    ]


def test_a_way_home_and_a_fall_are_drawn_in_their_own_layers() -> None:
    plan = made_plan()
    ring = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 20.0], [0.0, 20.0]])
    first = plan.shots[0].findings[0]
    down_here = dataclasses.replace(first, of=fall.CHECK, drawings=(Drawing("down here", ring),))
    home = Drawing("home", ring[:2], filled=False)
    back = dataclasses.replace(first, of=return_.CHECK, drawings=(home,))
    shot = dataclasses.replace(plan.shots[0], findings=(*plan.shots[0].findings, down_here, back))
    sheets = {s.title: s.shapes for s in overlays.below(dataclasses.replace(plan, shots=(shot,)))}
    (down,) = sheets["where it may come down"]
    assert down.kind == "area"
    ways = sheets["the way home, left alone"]
    assert {w.look for w in ways} == {"home", "home-worst"}
    launch = plan.outing.site.places["launch"].xyz_m[:2]
    thin = [w for w in ways if w.look == "home"]
    assert len(thin) == overlays.WAYS
    assert all((w.parts[0][-1] == launch).all() for w in thin)


def test_where_a_watcher_does_not_see_it_is_drawn() -> None:
    """A gap of 2 s in what the watcher sees, and one of 0.1 s that is too short to draw."""
    plan = made_plan()
    shot = plan.shots[0]
    (whole,) = watched.watched(shot.scene)
    sight = np.full_like(whole.sight, watched.Sight.SEEN)
    sight[100:120] = watched.Sight.HIDDEN
    sight[200] = watched.Sight.HIDDEN
    cut_by = np.where(sight == watched.Sight.HIDDEN, "the hut", "").astype(object)
    one = whole._replace(sight=sight, cut_by=cut_by, free_m=0.5 * whole.slant_m)
    shapes = list(overlays.seen(shot, "A", one))
    (gap,) = [s for s in shapes if s.look == "unseen"]
    path = shot.scene.track.xyz_m[0, :, :2]
    assert np.allclose(gap.parts[0][[0, -1]], path[[100, 120]])
    assert gap.info is not None
    assert dict(gap.info.rows)["lasts"] == "2.0 s"
    assert dict(gap.info.rows)["in its middle"].endswith("hidden by the hut")
    (cut,) = [s for s in shapes if s.look == "sight-cut"]
    assert np.allclose(cut.parts[0][1], (one.eye_m[110, :2] + path[110]) / 2.0)
    assert len([s for s in shapes if s.look == "sight-free"]) == 2


def test_a_line_is_drawn_with_fewer_points_and_strays_no_farther_than_said() -> None:
    t = np.linspace(0.0, 6.0, 800)
    path = np.stack([30.0 * np.sin(t), 20.0 * np.cos(1.7 * t)], axis=-1)
    kept = simplified(path, 0.1)
    assert len(kept) < 100
    assert (kept[[0, -1]] == path[[0, -1]]).all()
    start, way = kept[:-1], np.diff(kept, axis=0)
    rest = path[:, None] - start
    share = np.clip((rest * way).sum(-1) / (way**2).sum(-1), 0.0, 1.0)
    off = np.linalg.norm(rest - share[..., None] * way, axis=-1).min(axis=1)
    assert off.max() <= 0.1
    assert len(simplified(path[:1], 0.1)) == 2


def test_north_and_the_wind_are_on_the_live_map(plain_page: str) -> None:
    # The made plan's wind comes from 250° with 5 m/s: one long stroke.
    assert f'<path d="{compass.barb(250.0, 5.0)}"/>' in plain_page
    assert "wind from WSW, 5 m/s" in plain_page
    assert f'd="{compass.NORTH}"' in plain_page


def test_who_stands_where_is_named_on_the_live_map(plain_page: str) -> None:
    texts = [t for _, a, t in Elements(plain_page).raw if a.get("type") == "application/json"]
    names = [name for _, _, name, _ in json.loads("".join(texts))["infos"]]
    assert "launch: Sem, pilot" in names
    assert {"peat hut", "coast path, may pass", "nesting ledge", "the lookout"} <= set(names)


def test_the_first_lines_are_the_shots_and_the_law_comes_last(plain_page: str) -> None:
    header, _, after = plain_page.partition('<div id="view">')
    assert re.search(
        r'<a href="#shot-A">.*it hits the leaning larch: 0.0 m, needs 2.2.*no-go', header
    )
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
    also = Also(Verdict.NO_GO, 0.5, 2.0, -1.5, "m", "hut", None, "the hut is near", "stay off")
    found = dataclasses.replace(shot.findings[0], also=(also,))
    changed = dataclasses.replace(
        shot, combined="2 kinds of caution", findings=(found, *shot.findings[1:])
    )
    page = live_map.html(dataclasses.replace(plan, shots=(changed,)))
    section = page[page.index('<section id="shot-A">') :]
    seen = section[: section.index("<details")]
    assert "2 kinds of caution" in seen
    assert "also no-go: 0.5 m, needs 2.0 m: the hut is near" in seen
    assert "the limit of 2.18 m" not in seen
    assert "the limit of 2.18 m" in section


def test_no_go_carries_crosses_and_go_none() -> None:
    plan = made_plan()
    sheets = drawing.sheets(plan, drawing.whole(plan), ())
    first = next(s for s in sheets if s.title.startswith("A: "))
    crosses = [s for s in first.shapes if s.look == "cross"]
    path, code = plan.shots[0].scene.track.xyz_m[0, :, :2], plan.shots[0].sample_verdict
    assert crosses
    for shape in crosses:
        nearest = int(np.linalg.norm(path - shape.parts[0][0], axis=1).argmin())
        assert code[nearest] == Verdict.NO_GO


def test_samples_of_the_legend_differ() -> None:
    samples = re.findall(
        r"<li[^>]*>(<svg.*?</svg>)", legend.html({*look.LOOKS, *look.MARKS}, set(), 0)
    )
    assert len(samples) >= 25
    assert len(set(samples)) == len(samples)
