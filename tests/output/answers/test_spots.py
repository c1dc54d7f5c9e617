"""Places to launch and to stand in words, as data and as a picture."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from shotplan.advice.vantage import ROLES, WEIGHTS, Vantage, Vantages
from shotplan.advice.where_to_stand import where_to_stand
from shotplan.outing import read
from shotplan.output import look, paper
from shotplan.output.answers import spots, spots_picture, spots_table
from shotplan.output.answers.spots_short import share
from shotplan.output.words import plain
from tests import worlds
from tests.output.hostile import EVERY

STARTS = ("launch 1", "launch 2", "launch 3", "pilot 1", "pilot 2", "pilot 3", "spotter 1",
          "spotter 2", "spotter 3", "launch now", "pilot now", "spotter now")  # fmt: skip


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Vantages:
    crew = [
        {"name": "Ada", "role": "rider"},
        {"name": "Bo", "role": "pilot", "stands": "launch"},
        {"name": "Cy", "role": "spotter", "stands": "launch"},
    ]
    path = worlds.feature("path", "people", worlds.line([(60.0, -200.0), (60.0, 200.0)]))
    folder = tmp_path_factory.mktemp("spots")
    return where_to_stand(read(worlds.write_site(folder, site={"crew": crew}, features=[path])))


def hostile(found: Vantages) -> Vantages:
    """The same with every name from a file hostile."""
    shots = tuple(replace(s, name=EVERY) for s in found.outing.shots)
    people = tuple(replace(p, name=EVERY) for p in found.outing.site.people)
    site = replace(found.outing.site, name=EVERY, people=people)

    def named(v: Vantage) -> Vantage:
        assert v.ground is not None
        ground = v.ground._replace(people=EVERY, obstacle=EVERY, obstacle_m=3.0)
        return replace(v, place=EVERY, who=(EVERY,) if v.who else (), ground=ground,
                       against=(EVERY,), doubts=(EVERY,))  # fmt: skip

    return replace(
        found,
        outing=replace(found.outing, shots=shots, site=site),
        proposals={role: tuple(named(v) for v in found.proposals[role]) for role in ROLES},
        now=tuple(named(v) for v in found.now),
        notes=(EVERY,),
    )


def test_every_place_has_its_line_and_its_reasons(found: Vantages) -> None:
    rows = spots.rows(found)
    labels = [label for label, _ in rows if label]
    assert set(STARTS) <= set(labels)
    text = "\n".join(words for _, words in rows)
    assert text.count("out of where it may come down") >= 9
    assert re.search(r"sees \d+ % of the flight, [\d.]+ m to [\d.]+ m from it; score 0\.\d\d", text)
    assert re.search(
        r"\d+\.\d m (left|right) of the ride at \d+ m \(4[56]\.\d{6}, 1[34]\.\d{6}\)", text
    )
    assert "upwind of" in text
    assert "from launch 1, which is seen" in text
    assert "seen from there or by pilot 2" in text
    for word in ("safe", "legal", "allowed"):
        assert word not in text.lower()


def test_a_share_is_never_rounded_up() -> None:
    assert share(0.9999) == "99 %"
    assert share(1.0) == "100 %"
    assert share(0.29) == "29 %"


def test_hostile_names_are_made_plain(found: Vantages) -> None:
    rows = spots.rows(hostile(found))
    for label, text in rows:
        assert plain(label) == label
        assert plain(text) == text
    assert any(plain(EVERY) in text for _, text in rows)


def test_no_name_is_in_the_picture(found: Vantages) -> None:
    assert spots_picture.png(hostile(found)) == spots_picture.png(found)


def test_the_data_is_json_and_complete(found: Vantages) -> None:
    told = json.loads(json.dumps(spots.data(found), allow_nan=False))
    assert told["weights"] == {role: dict(WEIGHTS[role]) for role in ROLES}
    for role in ROLES:
        for one, v in zip(told["proposals"][role], found.proposals[role], strict=True):
            assert one["seen"] == pytest.approx(v.watched.seen, abs=1e-6)
            back = found.outing.site.frame.xy_m(np.array([one["lon_deg"], one["lat_deg"]]))
            assert back == pytest.approx(v.xyz_m[:2], abs=0.01)
            assert one["score"] == pytest.approx(v.score, abs=1e-3)
    assert {one["role"] for one in told["now"]} == set(ROLES)


def test_fewer_than_three_say_why(found: Vantages) -> None:
    none = replace(
        found,
        proposals=dict.fromkeys(ROLES, ()),
        tried=dict.fromkeys(ROLES, 120),
        ruled_out=dict.fromkeys(ROLES, (("in water", 90), ("outside the boundary", 30))),
    )
    rows = dict(spots.rows(none))
    told = "no place found; of 120 points tried: 90 in water, 30 outside the boundary"
    assert rows["launches"] == told
    assert rows["pilots"] == told
    assert spots_picture.png(none)


def test_the_picture_is_one_and_the_same_png(found: Vantages) -> None:
    first = spots_picture.png(found)
    assert first == spots_picture.png(found)
    image = Image.open(io.BytesIO(first))
    assert image.format == "PNG"
    assert image.width == look.WIDTH_PX
    assert len(first) < 300_000


def test_tags_of_roles_read_in_grey() -> None:
    # Rec. 601 luma: the tags of launch, spotter and pilot differ by more than a third of the scale
    # between the first two, and by more than a quarter between the others.
    def grey(colour: str) -> float:
        return float(np.dot([int(colour[i : i + 2], 16) for i in (1, 3, 5)], [0.299, 0.587, 0.114]))

    launch, pilot, spotter = (grey(spots_table.STYLES[role].fill) for role in ROLES)
    assert spotter - launch > 85.0
    assert pilot - spotter > 64.0


def short(found: Vantages) -> list[str]:
    rows = spots.rows(found)
    at = [label for label, _ in rows].index("in short")
    ends = [label for label, _ in rows].index("launch 1") if found.proposals["launch"] else None
    return [text for _, text in rows[at:ends]]


def test_where_nothing_is_found_it_says_so_first(found: Vantages) -> None:
    none = replace(
        found,
        proposals=dict.fromkeys(ROLES, ()),
        ruled_out={**dict.fromkeys(ROLES, ()), "pilot": (("in water", 7), ("in a keep-out", 2))},
        tried=dict.fromkeys(ROLES, 9),
    )
    told = short(none)
    assert told[0] == "no place for a launch was found"
    assert told[1] == "no place for a pilot was found: 7 of 9 points tried are out for: in water"
    assert not [line for line in told if "as good as any" in line]


def test_what_has_something_against_it_is_not_as_good_as_any(found: Vantages) -> None:
    (launch, *others) = found.now
    best = found.proposals["launch"][0]
    good = replace(launch, score=best.score)
    assert "as good as any place found" in short(replace(found, now=(good, *others)))[0]
    bad = replace(good, against=("trees, buildings or poles within 5 m, or overhead",))
    told = short(replace(found, now=(bad, *others)))[0]
    assert "trees, buildings or poles within 5 m" in told
    assert "launch 1 has nothing against it" in told
    assert "as good as any" not in told


def test_the_proposals_are_drawn_again_nearer_and_say_what_their_scores_are_of(
    found: Vantages, monkeypatch: pytest.MonkeyPatch
) -> None:
    written: list[str] = []
    monkeypatch.setattr(paper, "write", lambda *a, **k: written.append(a[3]))
    spots_picture.png(found)
    for role in ROLES:
        for one in found.proposals[role]:
            told = f"{spots_table.STYLES[role].letter}{one.number}  score {one.score:.2f}"
            assert any(line.startswith(told) for line in written)
        shares = [int(line.split(" %")[0]) for line in spots_table._made_of(role)]
        assert sum(shares) == 100
    view = spots_picture._view(found)
    near = spots_picture._nearer(found, view)
    if near is not None:
        ends = [v.xyz_m[None, :2] for role in ROLES for v in found.proposals[role]]
        assert all(near.holds((at,)) for at in ends)
        assert near.east_m - near.west_m < (view.east_m - view.west_m) / 1.5 + 1e-6
