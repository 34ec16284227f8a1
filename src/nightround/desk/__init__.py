"""The one object that faces talk to."""
