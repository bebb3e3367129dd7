"""Asking the program: the best build, with its proof."""
