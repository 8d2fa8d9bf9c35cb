"""What the shop says: its papers, printers, placements and garments, and the batches it is asked for."""
