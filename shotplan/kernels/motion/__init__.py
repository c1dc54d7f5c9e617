"""What moves: following, set points, stopping, falling, power, wind."""
