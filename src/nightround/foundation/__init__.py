"""Quantities, estimates, sources, problems, refusals and the clock: what every other layer stands on."""
