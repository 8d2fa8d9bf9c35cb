"""Sheets to paper without a dialog: the Internet Printing Protocol, what a printer says, and jobs sent exactly once."""
