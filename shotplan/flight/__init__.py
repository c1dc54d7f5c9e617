"""flight."""
