"""The moult clock: when will each animal moult next, with odds. See docs/moult-clock.md."""
