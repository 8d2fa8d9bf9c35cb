"""The drawing tools and the pictures of the example batch; `draw_artwork.py` one folder up writes them."""
