"""The parts of the paper: one file a section, found by scanning this folder."""
