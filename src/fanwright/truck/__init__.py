"""The machine: drive, air circuit, fan, belt drive, bearings, controller settings."""
