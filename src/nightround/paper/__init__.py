"""What is printed or filed: labels, sheets and notes made from reports."""
