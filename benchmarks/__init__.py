"""How fast optibox is, against general-purpose solvers on the same questions."""
