"""Who sits on which place: the tree of power leads from the supply to the drives.

A supply's leads (and the drive plugs of a board) are the roots. On each plug hangs one
thing: a drive, an inlet of a backplane, or an adapter, splitter or extension that
offers plugs in turn. Fans of a chassis with a fed backplane hang on its inlets.
"""

from optibox.wiring.amperes import Amperes, Draw, amperes
from optibox.wiring.seat import MOST_IN_A_ROW
from optibox.wiring.tree import Edge, PowerTree, completed, tree_of

__all__ = [
    "MOST_IN_A_ROW",
    "Amperes",
    "Draw",
    "Edge",
    "PowerTree",
    "amperes",
    "completed",
    "tree_of",
]
