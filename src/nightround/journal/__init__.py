"""The append-only journal of entries: the only layer that touches a database."""
