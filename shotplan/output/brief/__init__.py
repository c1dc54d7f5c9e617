"""The printable brief, as page and as PDF, and the landowner's page."""
