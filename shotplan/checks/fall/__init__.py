"""Where it comes down if it stops flying."""

from shotplan.checks.fall.check import CHECK

__all__ = ["CHECK"]
