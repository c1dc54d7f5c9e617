"""A draft of the site flown and judged: the word, the proof, what works, a frame, the ground.

Runs in a process of its own (`worker`) and keeps warm what the last draft had in common with this
one: a change of one shot's keys reads nothing anew.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from shotplan import plan as planning
from shotplan.desk import said
from shotplan.desk.draft import edited, said_of
from shotplan.desk.flights import Flights
from shotplan.desk.folder import MARK, Texts
from shotplan.errors import BadInput
from shotplan.files.spelled import in_own_units
from shotplan.flying import with_others
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.outing import SITE_FILE, Outing, read

Tell = Callable[[dict[str, Any]], None]
CHANGES_ONE = ("name", "style")  # keys of a shot that want the whole folder read


class Bench:
    """Of one site folder; drafts are put down in `drafts`, a folder of nobody else's."""

    def __init__(self, folder: Path, drafts: Path, *, allow_outside: bool = False) -> None:
        """Nothing is read yet."""
        self.folder, self.drafts, self.allow_outside = folder, drafts, allow_outside
        self._texts: Texts | None = None
        self._outing: Outing | None = None
        self._begins: list[datetime] = []
        self._flights = Flights()
        self._judged: tuple[Outing, int, ShotPlan] | None = None

    def ask(
        self, question: str, texts: Texts, changes: Mapping[str, Any], shot: int, tell: Tell
    ) -> dict[str, Any]:
        """The answer to a question of the page about its changes of the texts; where they cannot
        be read, the problems. `tell` is told how far it is."""
        asked = {"word": self._word, "frame": self._frame, "prove": self._prove,
                 "mend": self._mend, "ground": self._ground}[question]  # fmt: skip
        draft = texts
        try:
            draft = edited(texts, changes)
            outing = self.outing(draft)
            if question != "ground" and not 0 <= shot < len(outing.shots):
                return {"problems": []}
            return asked(outing, shot, tell)
        except BadInput as bad:
            return {"problems": said_of(bad, draft)}

    def outing(self, draft: Texts) -> Outing:
        """The draft read; of what differs from the last one in a shot's numbers, only that shot."""
        if draft == self._texts and self._outing:
            return self._outing
        quick = self._by_shot(draft)
        if quick is None:
            for name, text in ((SITE_FILE, draft.site), (draft.ground_name, draft.ground)):
                (self.drafts / Path(name).name).write_bytes(text.encode("utf-8"))
            instead = {SITE_FILE: self.drafts / SITE_FILE}
            if draft.ground:
                instead[draft.ground_name] = self.drafts / Path(draft.ground_name).name
            quick = read(self.folder, allow_outside=self.allow_outside, instead=instead)
            if self._outing is None or not _as_long(self._outing, quick):
                self._begins = []
        self._texts, self._outing = draft, quick
        return quick

    def _by_shot(self, draft: Texts) -> Outing | None:
        if self._texts is None or self._outing is None or draft.ground != self._texts.ground:
            return None
        old, new = (tomllib.loads(t.site.removeprefix(MARK)) for t in (self._texts, draft))
        before, after = old.pop("shot", []), new.pop("shot", [])
        if old != new or len(before) != len(after):
            return None
        outing = self._outing
        for was, now in zip(map(in_own_units, before), map(in_own_units, after), strict=True):
            keys = {k: v for k, v in now.items() if was.get(k) != v}
            if was.keys() - now.keys() or keys.keys() & set(CHANGES_ONE):
                return None
            try:
                outing = outing.with_shot(now["name"], **keys) if keys else outing
            except BadInput:
                return None  # read whole, it is said in the file's own words
        if not _as_long(self._outing, outing):
            self._begins = []
        return outing

    def _one(self, outing: Outing, shot: int) -> ShotPlan:
        """The shot, undisturbed; it begins when the day as it was last read says."""
        made = self._judged
        if made is not None and made[0] is outing and made[1] == shot:
            return made[2]
        flight = self._flights.of(outing, outing.shots[shot])
        if len(self._begins) != len(outing.shots):
            flights = [self._flights.of(outing, one) for one in outing.shots]
            self._begins = planning.begins(outing, flights)
        scene = with_others(outing, flight, self._begins[shot], 1)
        # What is only said beside the word takes as long as the word; without a height to return
        # at that is part of it.
        said_too = outing.site.return_height_m is None
        judged = planning.judge(replace(scene, told=said_too))
        self._judged = (outing, shot, judged)
        return judged

    def _word(self, outing: Outing, shot: int, _: Tell) -> dict[str, Any]:
        return said.word(outing, self._one(outing, shot))

    def _frame(self, outing: Outing, shot: int, _: Tell) -> dict[str, Any]:
        from shotplan.desk.pictures import frame

        return frame(outing, self._one(outing, shot))

    def _ground(self, outing: Outing, _: int, __: Tell) -> dict[str, Any]:
        from shotplan.desk.pictures import ground

        return {**ground(outing), **said.place(outing)}

    def _prove(self, outing: Outing, shot: int, tell: Tell) -> dict[str, Any]:
        """The shot over all rides the site asks for."""
        from shotplan.checks import CHECKS

        flights = [self._flights.of(outing, one) for one in outing.shots]
        start = planning.begins(outing, flights)[shot]
        count, rides = 0, outing.disturbance.rides

        def next_check(_: str) -> None:
            nonlocal count
            tell({"done": count, "of": len(CHECKS), "rides": rides})
            count += 1

        many = with_others(outing, flights[shot], start, rides)
        return said.word(outing, planning.judge(many, next_check))

    def _mend(self, outing: Outing, shot: int, tell: Tell) -> dict[str, Any]:
        """The nearest changes that work, every one of them flown."""
        from shotplan.advice.mend import mended
        from shotplan.model.verdict import worst

        judged = self._one(outing, shot)
        alone = replace(outing, shots=(outing.shots[shot],))
        plan = Plan(
            outing=alone, shots=(judged,), verdict=worst([judged.verdict]), version="", cautions=()
        )
        tell({"done": 0, "of": 1})
        return said.mended(mended(plan, workers=1).shots[0])


def _as_long(old: Outing, new: Outing) -> bool:
    """Whether its shots begin when those of the other did, or nearly so."""
    same = np.array_equal(old.ride.along_m, new.ride.along_m) and old.day == new.day
    parts = [[(s.from_m, s.to_m, s.takes) for s in one.shots] for one in (old, new)]
    return bool(same and parts[0] == parts[1])
