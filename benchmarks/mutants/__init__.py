"""How many single faults the default tests find: ``python -m benchmarks mutants``.

``faults`` makes the faults of a module, ``sample`` draws some with a seed, ``covering``
knows which tests run which lines, ``server`` runs the tests of one fault, ``campaign``
all of them, ``report`` says what came of it.
"""
