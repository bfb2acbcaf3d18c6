"""Readings typed by hand: an outcome word, a quantity, a list of them, or the long form."""

from fanwright.evidence.typed.entry import read_entry

__all__ = ["read_entry"]
