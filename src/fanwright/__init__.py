"""Fanwright: readings in, an honest verdict on a truck's air-operated fan drive out."""

__version__ = "0.1.0"
