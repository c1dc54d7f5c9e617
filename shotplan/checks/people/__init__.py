"""What the people does where it flies."""

from shotplan.checks.people.check import CHECK

__all__ = ["CHECK"]
