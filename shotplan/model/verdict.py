"""The four words and how they merge: no-go > unknown > caution > go."""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum
from typing import Literal

Family = Literal["harm", "rule", "picture"]


class Verdict(IntEnum):
    """Ordered so that the worst is the greatest."""

    GO = 0
    CAUTION = 1
    UNKNOWN = 2
    NO_GO = 3

    @property
    def word(self) -> str:
        """As printed: go, caution, unknown, no-go."""
        return self.name.lower().replace("_", "-")

    def __str__(self) -> str:
        """Its word."""
        return self.word


EXIT_CODES = {Verdict.GO: 0, Verdict.CAUTION: 0, Verdict.NO_GO: 1, Verdict.UNKNOWN: 3}


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The worst of them; nothing judged is unknown, never go."""
    return max(verdicts, default=Verdict.UNKNOWN)
