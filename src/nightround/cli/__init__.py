"""The command line: reads arguments, asks the desk, shows a report."""
