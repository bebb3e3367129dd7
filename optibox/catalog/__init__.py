"""What exists: kinds of parts, their columns, classes, and reading them."""
