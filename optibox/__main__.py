"""Run optibox as ``python -m optibox``."""

from optibox.cli import main

if __name__ == "__main__":
    main()
