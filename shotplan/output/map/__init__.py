"""The live map, one file that works without signal, and the still maps of the brief."""
