"""Readings out of a pressure trace that a gauge logger wrote."""

from fanwright.evidence.trace.maker import examine, read_trace
from fanwright.evidence.trace.result import TraceResult

__all__ = ["TraceResult", "examine", "read_trace"]
