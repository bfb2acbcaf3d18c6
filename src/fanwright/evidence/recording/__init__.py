"""Readings out of a recording of a truck's bus traffic."""

from fanwright.evidence.recording.energy import DriveFigures
from fanwright.evidence.recording.reader import air_low_needed_s, read_recording
from fanwright.evidence.recording.result import RecordingResult

__all__ = ["DriveFigures", "RecordingResult", "air_low_needed_s", "read_recording"]
