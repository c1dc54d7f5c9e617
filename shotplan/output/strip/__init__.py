"""Strips and profile: what holds where along the ride."""
