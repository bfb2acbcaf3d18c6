"""Pages as HTML, found by their router."""
