"""Nightround: the evening round, workbench and evidence book of a keeper of long-lived spiders."""

__version__ = "0.1.0"
