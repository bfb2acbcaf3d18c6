"""Telemetry of a fleet: about one row a second, a column a signal, as CSV or Parquet."""

from fanwright.evidence.recording.telemetry.roles import Naming, naming_from
from fanwright.evidence.recording.telemetry.runs import RunColumns, runs_of
from fanwright.evidence.recording.telemetry.table import is_telemetry, open_table

__all__ = ["Naming", "RunColumns", "is_telemetry", "naming_from", "open_table", "runs_of"]
