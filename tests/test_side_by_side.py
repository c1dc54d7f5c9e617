"""Asked by many processes: the same answers, errors and order as by one."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.errors import BadInput, Problem, WorkerLostError
from shotplan.side_by_side import SETTING, at_most, each

WAYS = [pytest.param(True, id="forked"), pytest.param(False, id="started anew")]


class Held:
    """Something big that everybody has already."""

    def __init__(self) -> None:
        self.numbers = np.arange(4.0)


def squared(item: int) -> int:
    return item * item


def process(_: int) -> int:
    return os.getpid()


def refused(item: int) -> int:
    if item == 2:
        raise BadInput((Problem("key", "got 2"), Problem("other", "got 3")))
    return item


def killed(item: int) -> int:
    if item == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return item


def both(held: Held, item: tuple[Held, int]) -> tuple[Held, bool, Any]:
    """What came as an item is what was there, not a copy; so is what goes back."""
    return held, item[0] is held, held.numbers * item[1]


def nested(item: int) -> list[int]:
    return list(each(process, [item, item], workers=2))


@pytest.mark.parametrize("fork", WAYS)
@pytest.mark.parametrize("workers", [1, 2, 8])
def test_answers_come_in_order(workers: int, fork: bool) -> None:
    assert list(each(squared, range(20), workers=workers, fork=fork)) == [i * i for i in range(20)]


@pytest.mark.parametrize("fork", WAYS)
def test_others_answer(fork: bool) -> None:
    asked = set(each(process, range(40), workers=3, fork=fork))
    assert os.getpid() not in asked
    assert 1 <= len(asked) <= 3


def test_one_worker_is_nobody_else() -> None:
    assert set(each(process, range(3), workers=1)) == {os.getpid()}


def test_a_worker_asks_nobody_else() -> None:
    for pids in each(nested, range(2), workers=2):
        assert len(set(pids)) == 1


@pytest.mark.parametrize("fork", WAYS)
def test_what_is_shared_is_the_same_object_on_both_sides(fork: bool) -> None:
    held = Held()
    items = [(held, 1), (held, 2)]
    answers = list(each(partial(both, held), items, shared={"it": held}, workers=2, fork=fork))
    assert [same for _, same, _ in answers] == [True, True]
    assert all(back is held for back, _, _ in answers)
    assert answers[1][2].tolist() == [0.0, 2.0, 4.0, 6.0]


@pytest.mark.parametrize("fork", WAYS)
def test_an_error_is_told_as_if_it_had_happened_here(fork: bool) -> None:
    answers = each(refused, range(4), workers=2, fork=fork)
    assert next(answers) == 0
    with pytest.raises(BadInput) as bad:
        list(answers)
    assert [str(p) for p in bad.value.problems] == ["key: got 2", "other: got 3"]
    assert not multiprocessing.active_children()


def test_a_worker_that_is_gone_is_said() -> None:
    with pytest.raises(WorkerLostError, match=f"want of memory; try again with {SETTING}=1"):
        list(each(killed, range(4), workers=2))


def test_who_stops_asking_leaves_nobody_at_work() -> None:
    answers = each(squared, range(1000), workers=2)
    assert next(answers) == 0
    answers.close()
    assert not multiprocessing.active_children()


def test_workers_are_a_setting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SETTING, "5")
    assert at_most() == 5
    monkeypatch.delenv(SETTING)
    assert 1 <= at_most() <= (os.cpu_count() or 1)


@pytest.mark.parametrize("said", ["0", "-1", "many", "1.5", "1000"])
def test_a_setting_that_is_no_number_is_refused(said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SETTING, said)
    with pytest.raises(BadInput, match=f"{SETTING}: got '{said}', wanted a whole number"):
        at_most()


def test_no_more_workers_than_memory_bears(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(SETTING, raising=False)
    said: Callable[[str], int] = {"SC_PAGE_SIZE": 4096, "SC_PHYS_PAGES": 100_000}.__getitem__
    monkeypatch.setattr(os, "sysconf", said)  # 0.4 GB
    assert at_most() == 1


def begin(place: str) -> str:
    """A worker's: says who it is, and takes its time."""
    path = Path(place) / str(os.getpid())
    path.touch()
    time.sleep(30.0)
    return place


@pytest.mark.parametrize("fork", WAYS)
def test_workers_end_with_a_parent_that_was_killed(fork: bool, tmp_path: Path) -> None:
    code = (
        "import sys; from shotplan.side_by_side import each\n"
        "from tests.test_side_by_side import begin\n"
        "if __name__ == '__main__':\n"
        f"    list(each(begin, [sys.argv[1]] * 2, workers=2, fork={fork}))\n"
    )
    script = tmp_path / "run.py"
    script.write_text(code, "utf-8")
    place = tmp_path / "there"
    place.mkdir()
    at = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    parent = subprocess.Popen([sys.executable, str(script), str(place)], env=at)
    until = time.monotonic() + 60.0
    while len(list(place.iterdir())) < 2 and time.monotonic() < until:
        time.sleep(0.05)
    workers = [int(p.name) for p in place.iterdir()]
    assert len(workers) == 2
    parent.kill()
    parent.wait()
    while any(alive(w) for w in workers) and time.monotonic() < until + 20.0:
        time.sleep(0.05)
    assert not [w for w in workers if alive(w)]


def alive(process: int) -> bool:
    """Whether it runs: neither gone nor waiting to be buried."""
    stat = Path(f"/proc/{process}/stat")
    try:
        return stat.read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
