"""Margins become findings, findings verdicts, verdicts stretches: the one judge."""
