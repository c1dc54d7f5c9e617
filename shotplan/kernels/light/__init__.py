"""What is lit, seen, hidden: light, shadows, camera, horizon, radio."""
