"""Readings out of a pressure trace that a gauge logger wrote."""
