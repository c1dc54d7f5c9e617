"""Laser scans: what stands where, so that every return stands in some body."""
