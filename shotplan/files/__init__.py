"""Formats: bytes to plain records, every problem said; knows units, no nouns."""
