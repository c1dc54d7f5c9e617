"""styles."""
