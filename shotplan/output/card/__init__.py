"""The hill card."""
