"""Readings out of a recording of a truck's bus traffic."""
