"""Artwork: strict reading of PNGs, what of them is ink, and preparing each picture once for printing."""
