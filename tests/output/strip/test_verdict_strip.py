"""The strip of a plan: every metre keeps its word, worst check first, told by what binds there."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.kernels.rides import by_place
from shotplan.model.verdict import Verdict
from shotplan.output import words
from shotplan.output.strip import strip, verdict_strip
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan


@pytest.fixture(scope="module")
def plan() -> Plan:
    return made_plan()


def with_finding(shot: ShotPlan, check: str, **changes: object) -> ShotPlan:
    """A shot with one of its findings changed."""
    found = tuple(
        replace(f, **changes) if f.check == check else f  # type: ignore[arg-type]
        for f in shot.findings
    )
    return replace(shot, findings=found)


def test_rows_are_all_checks_and_then_those_that_are_not_go_worst_first(plan: Plan) -> None:
    shot = plan.shots[0]
    first, *rest = verdict_strip.rows(shot)
    assert first.label == "all checks"
    assert first.note == f"the shot: {shot.verdict.word}"
    wanted = {f.check for f in shot.findings if f.metre_codes.max() > 0 or f.verdict > 0}
    assert wanted == {"clearance", "sight"} or wanted == {"clearance"}
    assert {r.label for r in rest} == wanted
    order = [int(shot.finding(r.label).verdict) for r in rest]
    assert order == sorted(order, reverse=True)


def covers(cells: tuple[strip.Cell, ...], shot: ShotPlan) -> bool:
    ends = [(c.from_m, c.to_m) for c in cells]
    joined = all(a[1] == b[0] for a, b in pairwise(ends))
    return joined and (ends[0][0], ends[-1][1]) == (shot.ride_from_m, shot.ride_to_m)


def test_cells_cover_the_shot_and_every_metre_keeps_its_word(plan: Plan) -> None:
    for shot in plan.shots:
        metres = by_place.metres(shot.scene.track.ride.along_m[0])
        merged, *rest = verdict_strip.rows(shot)
        assert covers(merged.cells, shot)
        for row in rest:
            assert covers(row.cells, shot)
            found = shot.finding(row.label)
            codes = found.metre_codes
            if codes.max() < found.verdict:  # for the shot as a whole
                assert [c.verdict for c in row.cells] == [found.verdict]
                continue
            for cell in row.cells:
                inside = (metres >= np.floor(cell.from_m)) & (metres < cell.to_m)
                assert inside.any()
                assert set(codes[inside].tolist()) == {int(cell.verdict)}
        codes = np.max([f.metre_codes for f in shot.findings], axis=0)
        for cell in merged.cells:
            inside = (metres >= np.floor(cell.from_m)) & (metres < cell.to_m)
            assert int(cell.verdict) >= codes[inside].max()


def test_a_cell_is_told_by_the_least_margin_within_five_metres_of_it(plan: Plan) -> None:
    shot = plan.shots[0]
    found = shot.finding("clearance")
    along = shot.scene.track.ride.along_m[0]
    (row,) = (r for r in verdict_strip.rows(shot) if r.label == "clearance")
    seen = set()
    for cell in row.cells:
        if cell.verdict == Verdict.UNKNOWN:
            continue
        near = (along >= np.floor(cell.from_m) - 5.0) & (along <= np.ceil(cell.to_m) - 1.0 + 5.0)
        margins = found.softs if cell.verdict == Verdict.CAUTION else found.margins
        least = float(np.nanmin(margins[near]))
        told = f"{abs(least):.1f} m {'to spare' if least >= 0.0 else 'short'}"
        assert cell.wordings[0][-1].endswith(told), (cell, told)
        thing = found.things[np.flatnonzero(near)[np.nanargmin(margins[near])]]
        assert thing in cell.wordings[0][0]
        seen.add(cell.verdict)
    assert len(seen) >= 2


def test_what_holds_for_the_shot_as_a_whole_is_one_cell(plan: Plan) -> None:
    wary = with_finding(
        plan.shots[0], "height", verdict=Verdict.CAUTION, reason="a tenth of it is near"
    )
    (row,) = (r for r in verdict_strip.rows(wary) if r.label == "height")
    (cell,) = row.cells
    assert cell.verdict == Verdict.CAUTION
    assert cell.wordings == (("a tenth of it is near",),)


def test_too_few_rides_and_rides_that_break_are_told(plan: Plan) -> None:
    def fullest(shot: ShotPlan) -> str:
        (row,) = (r for r in verdict_strip.rows(shot) if r.label == "height")
        return row.cells[0].wordings[0][0]

    shot = plan.shots[0]
    found: Finding = shot.finding("height")
    many = np.repeat(found.least, 21, axis=0)  # row 0 is no draw
    unknown = np.full_like(found.metre_codes, int(Verdict.UNKNOWN))
    few = with_finding(shot, "height", least=many, metre_codes=unknown, verdict=Verdict.UNKNOWN)
    assert fullest(few).endswith("m to spare, 20 rides are too few to prove it")
    broken = with_finding(
        shot, "height", least=many, rides_breaking=3, verdict=Verdict.NO_GO,
        metre_codes=np.full_like(found.metre_codes, int(Verdict.NO_GO)),
    )  # fmt: skip
    assert fullest(broken).endswith("m to spare, 3 of 20 rides break it")


def test_the_clock_rises_where_the_rider_stands(plan: Plan) -> None:
    shot = plan.shots[0]
    ride = shot.scene.track.ride
    along = np.array(ride.along_m)
    along[0, 100:160] = along[0, 100]
    along[0, 160:] -= along[0, 160] - along[0, 100]
    track = replace(shot.scene.track, ride=replace(ride, along_m=along))
    clock = verdict_strip.clock(replace(shot, scene=replace(shot.scene, track=track)))
    assert (np.diff(clock.along_m) >= 0.0).all()
    at = float(along[0, 100])
    # He comes to the place at 10 s and stands 6 s; half a metre on it is after that.
    assert float(np.interp(at, clock.along_m, clock.time_s)) == pytest.approx(10.0, abs=0.11)
    assert float(np.interp(at + 0.6, clock.along_m, clock.time_s)) > 15.9


@pytest.mark.filterwarnings("error")
def test_hostile_names_are_text() -> None:
    named = made_plan(shot_name=EVERY, tree_name=EVERY)
    told = [w for row in verdict_strip.rows(named.shots[0]) for c in row.cells for w in c.wordings]
    assert all(words.plain(line) == line for lines in told for line in lines)
