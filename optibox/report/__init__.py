"""Answers as documents: one builder a command, one renderer a form."""
