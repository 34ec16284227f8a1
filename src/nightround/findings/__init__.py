"""Science applied to this room's record: every result an estimate with its doubt."""
