"""The page: one self-contained file to look at, choose on and print."""
