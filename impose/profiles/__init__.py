"""What the shop keeps on file: papers, printers, placements, garments, presses, styles of words, settings."""
