"""ride."""
