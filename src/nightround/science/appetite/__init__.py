"""Appetite and signs seen as evidence about the next moult. See docs/appetite.md."""
