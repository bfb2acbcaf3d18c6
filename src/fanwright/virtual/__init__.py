"""What a truck with a named fault and a story would show."""
