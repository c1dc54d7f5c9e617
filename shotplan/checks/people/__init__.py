"""How near it comes to people, and to what is theirs."""

from shotplan.checks.people.check import CHECK

__all__ = ["CHECK"]
