"""Press tickets on plain paper: a cutting list by sheet, then half a page for each garment."""
