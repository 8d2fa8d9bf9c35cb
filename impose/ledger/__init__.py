"""What is remembered between runs, in one SQLite file: paper left, and what a hot folder has taken and made."""
