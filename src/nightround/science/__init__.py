"""Plain functions of numbers and arrays: no animal, no database, no screen."""
