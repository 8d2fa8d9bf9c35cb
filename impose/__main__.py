"""`python -m impose` is the command `impose`."""

from impose.cli import main

main()
