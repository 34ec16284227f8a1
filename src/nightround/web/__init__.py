"""The pages: read a form, ask the desk, show a report."""
