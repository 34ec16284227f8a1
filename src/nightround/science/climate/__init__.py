"""A room's winters and summers: shelf offsets, seasons, cold nights and heat waves, thermal days lost."""
