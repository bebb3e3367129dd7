"""The mixed-integer program: menu, bounds, formulation, solver, decoding."""
