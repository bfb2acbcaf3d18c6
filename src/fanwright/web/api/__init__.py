"""What the page asks for and sends, as JSON. Each file holds a ``router``; the app finds it by itself."""
