"""A style table as a strip: one row per style and side, the recommended way through them."""

from __future__ import annotations

import numpy as np

from shotplan.advice.style_table import StyleTable
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.output import paper
from shotplan.output.strip import strip, style_runs
from shotplan.output.strip.style_runs import Run
from shotplan.scene.landmarks import landmarks


def png(table: StyleTable) -> bytes:
    """`styles.png`; the same table gives the same bytes."""
    groups = style_runs.ordered_groups(table)
    works = table.word != Verdict.NO_GO
    said = f"recommended: {table.word.word}" if works else "nothing works as things are"
    title = f"{table.outing.titled}: which style where; {said}"
    drawn = strip.pixels(
        [_row(table, group) for group in groups],
        strip.pointed_at(landmarks(table.outing.site, table.outing.ride)),
        strip.Clock(table.edges_m, table.edges_s),
        title=title,
        path=[
            strip.Span(
                groups.index(table.candidates[leg.candidate].group), leg.from_m, leg.to_m, str(k)
            )
            for k, leg in enumerate(table.legs, start=1)
        ],
        gaps=table.gaps,
    )
    return paper.packed(drawn)


def _row(table: StyleTable, group: str) -> strip.Row:
    runs = style_runs.of_group(table, group)
    go_m = sum(
        float(table.edges_m[r.past] - table.edges_m[r.first])
        for r in runs
        if r.verdict == Verdict.GO
    )
    return strip.Row(
        group,
        tuple(_cell(table, r) for r in runs),
        f"go on {go_m:.0f} of {table.edges_m[-1]:.0f} m",
    )


def _cell(table: StyleTable, run: Run) -> strip.Cell:
    ends = float(table.edges_m[run.first]), float(table.edges_m[run.past])
    thing = f"{run.things[0]}{', …' * (len(run.things) > 1)}" if run.things else ""
    binds = tuple(dict.fromkeys(t for t in (run.binding, thing) if t))
    if run.verdict not in style_runs.PASSES:
        return strip.Cell(*ends, run.verdict, (binds,))
    told = table.candidates[run.candidate].style.numbers()
    if run.verdict == Verdict.GO:
        spare = _spare(table, run)
        said = [f"{spare} to {thing}"] * bool(spare and thing) + [spare] * bool(spare)
    else:
        said = list(dict.fromkeys((" ".join(binds), run.binding)))
    first, comma, rest = told.partition(", ")
    broken = ((first, rest),) if comma else ((told,),)
    last = ((said[-1],) if run.verdict == Verdict.GO else binds,) if said else ()
    return strip.Cell(*ends, run.verdict, (*((told, s) for s in said), *broken, *last))


def _spare(table: StyleTable, run: Run) -> str:
    """The margin; "" where it is not known or there is nothing."""
    if not np.isfinite(run.margin_m):
        return ""
    if run.margin_m >= table.enough_m:
        return f"over {table.enough_m:g} m"
    return say.metres(run.margin_m)
