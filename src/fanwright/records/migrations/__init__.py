"""The steps between versions of the tables, each with its way back."""
