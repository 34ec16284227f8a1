"""Survival of lives that were joined late and not all followed to the end: plain arrays, days."""
