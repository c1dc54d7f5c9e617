"""How the nearest changes that work are found: what is tried, asked, proved and said."""
