"""What is ordered: batch files, kits and rosters, loose pictures, read to rows; each fault with its place."""
