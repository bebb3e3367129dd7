"""Measuring: sheets before, reconciliation of readings after."""
