"""From site.toml and what it names to the place, and to the day spent on it."""
