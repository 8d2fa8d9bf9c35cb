"""Type: text shaped and measured in any script, its outlines, letters of our own. No orders, no pages."""
