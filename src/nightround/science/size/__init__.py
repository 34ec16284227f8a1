"""The size staircase: how big an animal is at each instar, and how big it will be after the next moult."""
