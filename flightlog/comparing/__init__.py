"""Pilots on the same task: who reached what and when, leg by leg, and where the time went."""
