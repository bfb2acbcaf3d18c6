"""Pictures as our own SVG: one file and one function ``draw(...) -> str`` a picture."""
