"""What judging hands on: one judgement a reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from fanwright.evidence.reading import Reading
from fanwright.words import Message

Verdict = Literal["good", "watch", "act_now", "stand_down", "none", "not_judged"]
WORST_LAST: tuple[Verdict, ...] = ("good", "watch", "act_now", "stand_down")


@dataclass(frozen=True)
class Judgement:
    """The verdict on one reading, with everything that led to it.

    Args:
        test: The test (catalogue id).
        verdict: The verdict; ``none`` for a test that only informs.
        reading: The reading judged.
        why: The reason in one sentence.
        todo: What to do about it; None when nothing is.
        dimension: What the value and limits measure (``share`` where the test is judged against a
            nominal); empty for a word.
        value_si: The value judged [SI]; a share of the nominal where the test is relative.
        sd_si: Its standard uncertainty [SI].
        difference_si: How far it lies from the reading beside it, where that decided [SI], or None.
        difference_limit_si: The limit of that difference [SI], or None.
        limit_si: The nearest edge beyond which ``act_now`` begins [SI], or None.
        watch_limit_si: The nearest edge beyond which ``watch`` begins [SI], or None.
        chances: Chance of each verdict [-]; empty for a word.
        repeat: Whether no band holds 90 %, so that the reading should be repeated.
        limit_source: Where the limits come from.
        cautions: Cautions that stand at this step (ids).
    """

    test: str
    verdict: Verdict
    reading: Reading
    why: Message
    todo: Message | None = None
    dimension: str = ""
    value_si: float | None = None
    sd_si: float | None = None
    difference_si: float | None = None
    difference_limit_si: float | None = None
    limit_si: float | None = None
    watch_limit_si: float | None = None
    chances: Mapping[str, float] = field(default_factory=dict)
    repeat: bool = False
    limit_source: str = ""
    cautions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "chances", MappingProxyType(dict(self.chances)))

    @property
    def chance_beyond_limit(self) -> float | None:
        """Chance that the true value calls for ``act_now`` or worse [-]."""
        if not self.chances:
            return None
        return sum(self.chances.get(worse, 0.0) for worse in ("act_now", "stand_down"))

    @property
    def chance_beyond_watch(self) -> float | None:
        """Chance that the true value calls for ``watch`` or worse [-]."""
        return None if not self.chances else 1.0 - self.chances.get("good", 0.0)


@dataclass(frozen=True)
class Finding:
    """Something that does not fit together: a contradiction or a likely slip.

    Args:
        id: Its id.
        message: What was seen, and what to do.
        tests: The tests it touches.
    """

    id: str
    message: Message
    tests: tuple[str, ...] = ()
