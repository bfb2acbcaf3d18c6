"""Text such as ``11/32 in`` to SI and back."""

from fanwright.quantities.reading import Quantity, find_unit, read
from fanwright.quantities.table import Dimension, Unit, dimension, dimensions, units, units_of
from fanwright.quantities.writing import METRIC, Units, write_fraction

__all__ = [
    "METRIC",
    "Dimension",
    "Quantity",
    "Unit",
    "Units",
    "dimension",
    "dimensions",
    "find_unit",
    "read",
    "units",
    "units_of",
    "write_fraction",
]
