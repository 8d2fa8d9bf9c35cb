"""Artwork in other formats than PNG: each file turned into the bytes of a PNG, which the strict reader then judges."""
