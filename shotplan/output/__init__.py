"""output."""
