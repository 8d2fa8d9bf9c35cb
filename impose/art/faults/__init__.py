"""What will go wrong with a picture, seen before paper is spent: looked for while its pixels are at hand."""
