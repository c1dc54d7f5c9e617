"""A plan that asks some checks alone, for tests that look at one finding of it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from unittest import mock

from shotplan import plan as planning
from shotplan.checks import CHECKS


@contextmanager
def only(*ids: str) -> Iterator[None]:
    """Within it `plan.make` flies as ever and judges by these checks: a fraction of the work."""
    some = tuple(check for check in CHECKS if check.id in ids)
    assert len(some) == len(ids), ids
    with mock.patch.object(planning, "findings", partial(planning.findings, checks=some)):
        yield
