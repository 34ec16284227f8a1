"""Frozen data of exactly one page, sheet or file, shown alike as HTML, JSON, terminal text and paper."""
