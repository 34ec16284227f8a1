"""`python -m nightround` is the `nightround` command."""

from nightround.launch import main

main()
