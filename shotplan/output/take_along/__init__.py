"""Files for other devices: track, places, calendar."""
