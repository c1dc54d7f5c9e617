"""What the watcher sees, and where the flight is in it."""
