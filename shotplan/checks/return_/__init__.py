"""How it comes home when the link is lost."""

from shotplan.checks.return_.check import CHECK

__all__ = ["CHECK"]
