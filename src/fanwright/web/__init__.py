"""The bay page: a shell over the desk that shows it on a tablet. No physics, no SQL, no decisions."""
