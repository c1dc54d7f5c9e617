"""A track over a site, the only thing a check sees, and what follows from it."""
