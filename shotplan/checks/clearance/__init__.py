"""How near it comes to what stands there."""

from shotplan.checks.clearance.check import CHECK

__all__ = ["CHECK"]
