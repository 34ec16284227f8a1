"""Ranked jobs: what, for whom, when, why and how sure."""
