"""The frontier: every alternative worth considering, proven."""
