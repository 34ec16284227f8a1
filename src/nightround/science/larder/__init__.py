"""Feeders: how a lot grows, dies and grows out of size, and which packs to order when."""
