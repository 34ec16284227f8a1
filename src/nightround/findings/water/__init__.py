"""Water of the room's homes: from what the record says of them to what to pour, with its doubt."""
