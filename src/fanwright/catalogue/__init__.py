"""What can be observed and what can be wrong, as data with a loader."""

from fanwright.catalogue.loader import load
from fanwright.catalogue.model import (
    Catalogue,
    Caution,
    CautionRule,
    Fault,
    Instrument,
    Outcome,
    Price,
    Test,
)

__all__ = ["Catalogue", "Caution", "CautionRule", "Fault", "Instrument", "Outcome", "Price", "Test", "load"]
