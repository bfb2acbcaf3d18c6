"""From what was read so far to what is wrong, the next best test, and what to repair."""

from fanwright.diagnosis.diagnose import diagnose
from fanwright.diagnosis.engine import Arrangement, Engine
from fanwright.diagnosis.loader import load_network
from fanwright.diagnosis.model import Cause, Diagnosis, Fact, LeadsTo, Network, NextTest

__all__ = [
    "Arrangement",
    "Cause",
    "Diagnosis",
    "Engine",
    "Fact",
    "LeadsTo",
    "Network",
    "NextTest",
    "diagnose",
    "load_network",
]
