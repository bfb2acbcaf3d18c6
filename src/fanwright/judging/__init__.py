"""From a reading and a limit to a verdict with its chance."""

from fanwright.judging.judge import Context, judge
from fanwright.judging.limits import Band, Limits, TestLimits, load
from fanwright.judging.verdict import WORST_LAST, Finding, Judgement

__all__ = [
    "WORST_LAST",
    "Band",
    "Context",
    "Finding",
    "Judgement",
    "Limits",
    "TestLimits",
    "judge",
    "load",
]
