"""From margins of many rides to one verdict: counts, proof, place, and what is told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from shotplan.checks import clearance
from shotplan.flying import stage_scene
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.judging.verdicts import Part, joined, over_rides
from shotplan.model.arrays import Array
from shotplan.model.verdict import Family, Verdict
from shotplan.outing import read
from shotplan.scene import scene as scene_module
from shotplan.scene.margin import Check, Margin, Words
from shotplan.scene.scene import Scene
from tests import worlds

Scenes = Callable[[int], Scene]
INF = np.inf
SAFE_M = 4.0
LIMIT_M = 2.0


def flags(rides: int, *which: int) -> np.ndarray:
    on = np.zeros(rides, dtype=bool)
    on[list(which)] = True
    return on


def verdict(
    family: Family, rides: int, share: float, broken: range | tuple[int, ...] = (),
    unknown: range | tuple[int, ...] = (), softly: range | tuple[int, ...] = (),
    *, proving: bool = True,
) -> Verdict:  # fmt: skip
    hit, doubt, soft = (flags(rides, *which) for which in (broken, unknown, softly))
    return Verdict(int(over_rides(family, hit, doubt, soft, share, proving=proving)))


@pytest.mark.parametrize(
    ("rides", "share", "broken", "wanted"),
    [
        # 299 clean rides prove under 1 %, 59 under 5 % (Clopper and Pearson 1934; textbook).
        (299, 0.01, 0, Verdict.GO),
        (298, 0.01, 0, Verdict.UNKNOWN),
        (60, 0.01, 0, Verdict.UNKNOWN),
        (59, 0.05, 0, Verdict.GO),
        (58, 0.05, 0, Verdict.UNKNOWN),
        (300, 0.01, 1, Verdict.UNKNOWN),
        (300, 0.01, 3, Verdict.UNKNOWN),
        (300, 0.01, 4, Verdict.NO_GO),
        (300, 0.05, 1, Verdict.CAUTION),
        (300, 0.05, 8, Verdict.CAUTION),
        (300, 0.05, 9, Verdict.UNKNOWN),
        (300, 0.05, 15, Verdict.UNKNOWN),
        (300, 0.05, 16, Verdict.NO_GO),
    ],
)
def test_harm_by_the_count_of_broken_rides(
    rides: int, share: float, broken: int, wanted: Verdict
) -> None:
    assert verdict("harm", rides, share, range(1, 1 + broken)) == wanted


@given(
    st.integers(2, 400), st.sampled_from([0.01, 0.05]),
    st.sampled_from(["harm", "rule", "picture"]), st.data(),
)  # fmt: skip
def test_the_rule_as_it_is_defined(
    rides: int, share: float, family: Family, data: st.DataObject
) -> None:
    k = data.draw(st.integers(0, min(rides - 1, 60)))
    got = verdict(family, rides, share, range(1, 1 + k))
    no = Verdict.CAUTION if family == "picture" else Verdict.NO_GO
    # DEFINITIONS "From rides to a verdict".
    if k > share * rides:
        wanted = no
    elif family == "harm" and stats.beta.ppf(0.95, k + 1, rides - k) > share:
        wanted = Verdict.UNKNOWN
    else:
        wanted = Verdict.CAUTION if k else Verdict.GO
    assert got == wanted
    assert verdict(family, rides, share, range(k + 1)) == no  # the undisturbed one among them


def test_the_undisturbed_ride_decides_by_itself() -> None:
    assert verdict("harm", 2000, 0.05, (0,)) == Verdict.NO_GO
    assert verdict("picture", 2000, 0.05, (0,)) == Verdict.CAUTION
    assert verdict("harm", 2000, 0.05, (), (0,)) == Verdict.UNKNOWN
    assert verdict("harm", 1, 0.05) == Verdict.GO
    assert verdict("harm", 1, 0.05, (), (), (0,)) == Verdict.CAUTION
    assert verdict("harm", 1, 0.05, (), (0,), (0,)) == Verdict.UNKNOWN


def test_what_is_broken_stays_broken_where_something_is_unknown() -> None:
    # A hit stays a hit (DEFINITIONS "Survey").
    assert verdict("harm", 300, 0.05, range(1, 40), range(300)) == Verdict.NO_GO
    assert verdict("rule", 300, 0.05, range(1, 40), (0,)) == Verdict.NO_GO
    assert verdict("harm", 300, 0.05, (7,), (0,)) == Verdict.UNKNOWN
    assert verdict("picture", 300, 0.05, range(1, 40), (0,)) == Verdict.UNKNOWN
    assert verdict("harm", 300, 0.05, (0,), (0,)) == Verdict.NO_GO


def test_one_other_ride_that_is_not_known_makes_it_unknown() -> None:
    assert verdict("harm", 300, 0.05, (), (7,)) == Verdict.UNKNOWN
    assert verdict("rule", 300, 0.05, (7,), (7,)) == Verdict.CAUTION  # broken, whatever else


def test_a_search_takes_the_share_it_sees() -> None:
    assert verdict("harm", 60, 0.01, proving=False) == Verdict.GO
    assert verdict("harm", 60, 0.05, (3, 4, 5), proving=False) == Verdict.CAUTION
    assert verdict("harm", 60, 0.05, (3, 4, 5, 6), proving=False) == Verdict.NO_GO
    assert verdict("harm", 60, 0.05, (0,), proving=False) == Verdict.NO_GO


def test_many_columns_are_judged_one_by_one() -> None:
    rng = np.random.default_rng(5)
    broken, unknown, softly = rng.random((3, 80, 50)) < 0.03
    together = over_rides("harm", broken, unknown, softly, 0.05)
    alone = [
        int(over_rides("harm", broken[:, k], unknown[:, k], softly[:, k], 0.05)) for k in range(50)
    ]
    np.testing.assert_array_equal(together, alone)


def test_over_several_places_the_rides_that_break_it_anywhere_count() -> None:
    rng = np.random.default_rng(7)
    margin = rng.normal(3.0, 1.0, (80, 30))
    margin[rng.random(margin.shape) < 0.002] = np.nan
    soft = margin - 1.0
    families: tuple[Family, ...] = ("harm", "rule", "picture")
    for family in families:
        whole = Part(margin, soft, 0.05, family)
        hit, doubt, softly = (
            np.asarray(found.any(axis=1)) for found in (margin < 0.0, np.isnan(margin), soft < 0.0)
        )
        assert whole.verdict == int(over_rides(family, hit, doubt, softly, 0.05))
        np.testing.assert_array_equal(whole.broken, hit)
        legs = [whole.at(slice(None), slice(0, 10)), whole.at(slice(None), slice(10, 30))]
        np.testing.assert_array_equal(joined(legs, axis=1).codes(), whole.codes())
        assert whole.verdict >= max(leg.verdict for leg in legs)


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory) -> Scenes:
    """A short shot of many rides whose nose bears the ride's number, so that a check of ours can
    say of each ride what we want."""
    folder = worlds.write_site(tmp_path_factory.mktemp("judging"), ride=worlds.straight(0.0, 100.0))
    outing = read(folder)
    made: dict[int, Scene] = {}

    def of(rides: int) -> Scene:
        if rides not in made:
            scene = stage_scene(outing, outing.shots[0], outing.day.start, rides)
            number = np.arange(rides, dtype=float)[:, None]
            nose = np.broadcast_to(number, scene.track.heading_rad.shape)
            made[rides] = replaced(scene, nose)
        return made[rides]

    return of


def replaced(scene: Scene, nose: Array) -> Scene:
    return replace(scene, track=replace(scene.track, heading_rad=nose))


def check(
    margin: Callable[[Array, Array], Array], share: float = 0.01, family: Family = "harm"
) -> Check:
    """`margin(ride number (r,1), metre (r,n)) -> (r,n)`."""

    def margins(scene: Scene) -> tuple[Margin, ...]:
        track = scene.track
        found = margin(track.heading_rad[:, :1], track.ride.along_m)
        found = np.array(np.broadcast_to(found, track.known.shape), dtype=float)
        return (
            Margin(
                margin=found,
                value=found[0] + LIMIT_M,
                limit=np.full(found.shape[1], LIMIT_M),
                thing=np.full(found.shape[1], "thorn", dtype=object),
                why=lambda i, word: Words(f"reason {word.word} at sample {i}", "advice 1 m"),
                share=share,
            ),
        )

    return replace(clearance.CHECK, id="ours", family=family, margins=margins)


def safe(ride: Array, at_m: Array) -> Array:
    return np.full(at_m.shape, SAFE_M)


def breaking(*rides: int, at_m: float = 40.0, by_m: float = 1.0) -> Callable[[Array, Array], Array]:
    """Those rides break it by `by_m` within a metre of a place."""

    def margin(ride: Array, along: Array) -> Array:
        there = np.isin(ride, rides) & (np.abs(along - at_m) < 1.0)
        return np.where(there, -by_m, SAFE_M)

    return margin


def metre(found: Finding, m: float) -> int:
    return int(found.metre_codes[int(m)])


def test_too_few_rides_prove_too_little_and_it_says_how_many_would_do(scenes: Scenes) -> None:
    few = judging.find(check(safe), scenes(60))
    assert few.verdict == Verdict.UNKNOWN
    assert few.reason.startswith("none of 60 rides breaks it")
    # 1 - 0.05^(1/60) (Clopper and Pearson 1934; textbook).
    assert f"under {1.0 - 0.05 ** (1.0 / 60.0):.1%}," in few.reason
    assert "1% allowed" in few.reason
    assert "rides = 299" in few.advice
    assert few.rides_breaking == 0
    assert (few.metre_codes == int(Verdict.UNKNOWN)).all()
    assert (few.margin, few.ride) == (SAFE_M, 0)


def test_enough_rides_prove_what_they_prove_and_no_more(scenes: Scenes) -> None:
    enough = judging.find(check(safe), scenes(300))
    assert enough.verdict == Verdict.GO
    assert enough.share_bound == pytest.approx(1.0 - 0.05 ** (1.0 / 300.0))
    assert (enough.metre_codes == int(Verdict.GO)).all()
    trees = judging.find(check(safe, share=0.05), scenes(60))
    assert trees.verdict == Verdict.GO
    assert trees.share_bound == pytest.approx(1.0 - 0.05 ** (1.0 / 60.0))


def test_one_ride_proves_nothing_of_others(scenes: Scenes) -> None:
    alone = judging.find(check(safe), scenes(1))
    assert alone.verdict == Verdict.GO
    assert alone.share_bound is None
    assert len(alone.least) == 1


def test_a_few_broken_rides_are_told_of_by_the_worst_with_its_number(scenes: Scenes) -> None:
    def two(ride: Array, along: Array) -> Array:
        deep = breaking(212, at_m=70.0, by_m=1.5)(ride, along)
        return np.minimum(breaking(7, by_m=0.5)(ride, along), deep)

    found = judging.find(check(two, share=0.05), scenes(300))
    assert found.verdict == Verdict.CAUTION
    assert (found.ride, found.rides_breaking) == (212, 2)
    assert (found.margin, found.value, found.limit) == (-1.5, LIMIT_M - 1.5, LIMIT_M)
    assert found.thing == "thorn"
    assert found.at is not None
    assert abs(found.at.ride_m - 70.0) < 1.0
    # That ride's own clock, not the undisturbed one's.
    scene = scenes(300)
    there = scene.track.ride.along_m[212, found.at.sample]
    assert there == pytest.approx(found.at.ride_m)
    assert scene.track.ride.t_s[found.at.sample] == pytest.approx(found.at.time_s)
    np.testing.assert_allclose(scene.track.xyz_m[212, found.at.sample], found.at.xyz_m)
    assert "2 of 300 rides do not" in found.reason
    assert "in ride 212" in found.reason
    assert (found.margins == SAFE_M).all()  # the undisturbed ride's stay its own


def test_the_undisturbed_ride_is_told_of_where_it_breaks_itself(scenes: Scenes) -> None:
    def both(ride: Array, along: Array) -> Array:
        deep = breaking(33, at_m=70.0, by_m=9.0)(ride, along)
        return np.minimum(breaking(0, by_m=0.25)(ride, along), deep)

    found = judging.find(check(both), scenes(300))
    assert found.verdict == Verdict.NO_GO
    assert (found.ride, found.margin, found.rides_breaking) == (0, -0.25, 2)


def test_too_many_broken_rides_are_no_go_though_the_undisturbed_one_is_sound(
    scenes: Scenes,
) -> None:
    found = judging.find(check(breaking(*range(1, 31)), share=0.05), scenes(300))
    assert found.verdict == Verdict.NO_GO
    assert found.rides_breaking == 30
    assert found.share_bound is not None
    assert found.share_bound > 0.1
    assert found.margin == -1.0
    for m, wanted in ((30, Verdict.GO), (36, Verdict.NO_GO), (44, Verdict.NO_GO), (52, Verdict.GO)):
        assert metre(found, m) == int(wanted)


def test_a_few_broken_too_many_to_prove_says_both(scenes: Scenes) -> None:
    found = judging.find(check(breaking(5, 6), share=0.05), scenes(60))
    assert found.verdict == Verdict.UNKNOWN
    assert "2 of 60 rides do not" in found.reason
    # The first n whose bound with two broken is under 5 % (Clopper and Pearson 1934).
    n = next(n for n in range(60, 400) if stats.beta.ppf(0.95, 3, n - 2) <= 0.05)
    assert f"rides = {n}" in found.advice


def test_hits_of_others_win_over_what_the_undisturbed_ride_does_not_know(scenes: Scenes) -> None:
    def patchy(ride: Array, along: Array) -> Array:
        hit = breaking(*range(1, 31))(ride, along)
        return np.where(along > 80.0, np.nan, hit)

    found = judging.find(check(patchy, share=0.05), scenes(300))
    assert found.verdict == Verdict.NO_GO
    assert 1 <= found.ride <= 30
    assert found.margin == -1.0
    assert "30 of 300 rides break it" in found.reason
    assert "keeps clear" not in found.reason
    assert metre(found, 40) == int(Verdict.NO_GO)
    assert metre(found, 95) == int(Verdict.UNKNOWN)


def test_a_ride_of_which_nothing_is_known_is_not_the_deepest(scenes: Scenes) -> None:
    def margin(ride: Array, along: Array) -> Array:
        return np.where(ride == 4, np.nan, breaking(9)(ride, along))

    found = judging.find(check(margin, share=0.05), scenes(300))
    assert found.verdict == Verdict.UNKNOWN
    assert found.ride == 9
    assert found.margin == -1.0


def test_a_ride_that_is_not_known_is_not_told_as_one_that_hits(scenes: Scenes) -> None:
    found = judging.find(check(lambda r, a: np.where(r == 4, np.nan, SAFE_M), 0.05), scenes(300))
    assert found.verdict == Verdict.UNKNOWN
    assert found.ride == 4
    assert found.rides_breaking == 0
    assert "do not" not in found.reason
    assert "1 of 300 rides it is not known" in found.reason


def test_beyond_its_end_no_ride_is_asked(scenes: Scenes) -> None:
    scene = scenes(300)
    end = scene.first.track.ride.along_m[0, -1]
    assert not scene.track.ride.filming.all()

    def beyond(ride: Array, along: Array) -> Array:
        return np.where(along > end + 1e-6, np.where(ride % 2 == 0, -5.0, np.nan), SAFE_M)

    found = judging.find(check(beyond), scene)
    assert found.verdict == Verdict.GO
    assert found.rides_breaking == 0
    assert not np.isnan(found.least).any()


def test_rides_are_compared_by_place_though_no_moment_shows_it(scenes: Scenes) -> None:
    scene = scenes(300)
    hit = tuple(range(1, 31))
    found = judging.find(check(breaking(*hit, at_m=90.0), share=0.05), scene)
    along, filming = scene.track.ride.along_m, scene.track.ride.filming
    number = np.arange(300.0)[:, None]
    at_once = ((breaking(*hit, at_m=90.0)(number, along) < 0) & filming).mean(axis=0)
    assert at_once.max() < 0.05
    assert metre(found, 90) == int(Verdict.NO_GO)
    verdicts, binding = judging.merge_samples([found], scene.first.track.ride.along_m[0])
    there = np.abs(scene.first.track.ride.along_m[0] - 90.0) < 4.0
    assert (verdicts[there] == int(Verdict.NO_GO)).all()
    assert (binding[there] == 0).all()
    (before, red, after) = judging.stretches(scene.first, [found])
    assert (before.verdict, red.verdict, after.verdict) == (
        Verdict.GO, Verdict.NO_GO, Verdict.GO
    )  # fmt: skip
    assert red.from_m <= 86.0
    assert red.to_m >= 94.0
    assert (red.binding, red.margin) == ("ours", -1.0)


def test_in_one_stretch_rides_add_up_apart_they_do_not(scenes: Scenes) -> None:
    def at(*places: float) -> Check:
        def margin(ride: Array, along: Array) -> Array:
            rows = [
                breaking(*range(1 + 6 * k, 7 + 6 * k), at_m=m)(ride, along)
                for k, m in enumerate(places)
            ]
            return np.asarray(np.min(rows, axis=0))

        return check(margin, share=0.05)

    scene = scenes(300)
    # 2 % of the rides at each of three places: a caution at each, 6 % of the rides over all.
    apart = judging.find(at(20.0, 50.0, 80.0), scene)
    assert apart.verdict == Verdict.NO_GO
    assert apart.rides_breaking == 18
    assert apart.metre_codes.max() == int(Verdict.CAUTION)
    words = [s.verdict for s in judging.stretches(scene.first, [apart])]
    assert words.count(Verdict.CAUTION) == 3
    assert Verdict.NO_GO not in words
    close = judging.find(at(39.0, 50.0, 61.0), scene)  # side by side, none over another
    assert close.metre_codes.max() == int(Verdict.CAUTION)
    assert Verdict.NO_GO in [s.verdict for s in judging.stretches(scene.first, [close])]


def test_a_picture_is_at_worst_a_caution(scenes: Scenes) -> None:
    found = judging.find(check(breaking(*range(1, 300)), 0.01, "picture"), scenes(300))
    assert found.verdict == Verdict.CAUTION
    assert found.metre_codes.max() == int(Verdict.CAUTION)
    clean = judging.find(check(safe, 0.01, "picture"), scenes(60))
    assert clean.verdict == Verdict.GO  # nothing to prove


def test_a_check_no_ride_changes_is_asked_once(scenes: Scenes) -> None:
    asked: list[int] = []

    def margin(ride: Array, along: Array) -> Array:
        asked.append(len(ride))
        return np.full(along.shape, SAFE_M)

    found = judging.find(replace(check(margin), rides="first"), scenes(300))
    assert asked == [1]
    assert found.verdict == Verdict.GO
    assert found.share_bound is None


def test_blocks_of_rides_are_the_same_as_all_at_once(
    scenes: Scenes, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = check(breaking(3, 77, 250), share=0.05)
    whole = judging.find(asked, replace(scenes(300)))
    monkeypatch.setattr(scene_module, "BLOCK_SAMPLES", 1000)
    in_pieces = replace(scenes(300))
    assert len(in_pieces.others) > 50
    pieces = judging.find(asked, in_pieces)
    np.testing.assert_array_equal(pieces.least, whole.least)
    assert (pieces.ride, pieces.verdict) == (whole.ride, whole.verdict)
