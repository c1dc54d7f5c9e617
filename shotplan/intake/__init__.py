"""From what is at hand to a site folder."""
