"""map.html of every bundled site: light enough to send, and with all its layers."""

from __future__ import annotations

from itertools import pairwise

import pytest

from shotplan.files.bundled import bundled_sites
from shotplan.output.map import drawing, slider_rows
from shotplan.output.map import live as live_map
from tests.shared_plans import plan_of

MOST_BYTES = 1_200_000


@pytest.mark.parametrize("site", sorted(bundled_sites()))
def test_the_map_of_a_bundled_site_is_light_and_whole(site: str) -> None:
    made = plan_of(site)
    assert len(live_map.html(made).encode("utf-8")) < MOST_BYTES
    sheets = {s.title: s.shapes for s in drawing.sheets(made, drawing.whole(made), ())}
    for title in ("where it may come down", "where it flies over all rides"):
        assert sheets[title]
    eyes = [shapes for title, shapes in sheets.items() if title.startswith("what ")]
    assert any(s.look == "unseen" for shapes in eyes for s in shapes)
    assert any(s.look == "sight-free" for shapes in eyes for s in shapes)
    block = slider_rows.block(made.shots, made.outing.site.frame)
    for told, shot in zip(block["shots"], made.shots, strict=True):
        rows = told["rows"]
        assert rows[0][0] == 0.0
        assert rows[-1][0] == pytest.approx(shot.duration_s, abs=0.11)
        assert all(after[0] - before[0] <= 1.0 for before, after in pairwise(rows))
