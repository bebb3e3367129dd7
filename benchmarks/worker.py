"""One measurement in a process of its own; tells what it found as JSON.

``python -m benchmarks.worker plan|frontier|pair CASE FACTOR SEED LIMIT``
"""

import json
import math
import sys
import time
from typing import Any

from benchmarks.cases import case
from benchmarks.synthetic import synthetic
from optibox.frontier.compute import Wanted, frontier
from optibox.search.plan import plan


def measured(
    what: str, file: str, factor: int, seed: int, limit_s: float
) -> dict[str, Any]:
    """Return seconds, without reading files, and what came out."""
    scenario, catalog = case(file)
    catalog = synthetic(catalog, factor, seed)
    started = time.perf_counter()
    if what == "plan":
        found = plan(catalog, scenario, time_limit_s=limit_s)
        return {
            "seconds": time.perf_counter() - started,
            "status": found.status,
            "value": found.proof.value if found.assessment else None,
            "parts": len(catalog.parts),
        }
    wanted = Wanted(time_limit_s=limit_s)
    if what == "pair":
        wanted = Wanted(
            axes=("purchase", "running"), mode="exact", time_limit_s=limit_s
        )
    front = frontier(catalog, scenario, wanted)
    proven = [second for second, factor in front.progress if math.isfinite(factor)]
    return {
        "seconds": time.perf_counter() - started,
        "status": front.status,
        "first_cover_s": proven[0] if proven else None,
        "factor": front.factor if math.isfinite(front.factor) else None,
        "rows": len(front.rows),
        "searches": front.effort.n_solves,
        "parts": len(catalog.parts),
    }


if __name__ == "__main__":
    name, path, times, number, most = sys.argv[1:]
    found = measured(name, path, int(times), int(number), float(most))
    sys.stdout.write(json.dumps(found) + "\n")
