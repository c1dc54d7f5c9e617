"""What the wind does where it flies."""

from shotplan.checks.wind.check import CHECK

__all__ = ["CHECK"]
