"""Readings of a meter into figures, and which readings are worth taking."""
