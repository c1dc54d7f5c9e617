"""Plan how a camera aircraft may follow your ride, and what keeps it from doing so safely."""

__version__ = "0.1.0"
