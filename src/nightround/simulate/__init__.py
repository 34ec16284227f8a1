"""Invented rooms with known truth: the demo room and the calibrations are written here."""
