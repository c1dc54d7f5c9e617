"""site."""
