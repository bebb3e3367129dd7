"""Timing of processes: wall seconds, processor seconds, peak memory, medians."""

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

PYTHON = sys.executable
GRACE_S = 60.0
"""A process has so long beyond its own time limit before it is ended."""


@dataclass(frozen=True)
class Run:
    """One process."""

    wall_s: float
    cpu_s: float
    peak_mb: float
    code: int
    text: str

    @property
    def told(self) -> dict[str, Any]:
        """Return what the process told as JSON, nothing where it told none."""
        try:
            found = json.loads(self.text)
        except ValueError:
            return {}
        return found if isinstance(found, dict) else {}


def _env() -> dict[str, str]:
    """Return the environment; what is compiled is kept, as it is for people."""
    return {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}


def run(words: Sequence[str], limit_s: float | None = None) -> Run:
    """Run a process to its end; return what it took."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        started = time.perf_counter()
        process = subprocess.Popen(words, stdout=out, stderr=err, env=_env())
        ends = None if limit_s is None else started + limit_s + GRACE_S
        while True:
            pid, status, used = os.wait4(process.pid, os.WNOHANG)
            if pid:
                break
            if ends is not None and time.perf_counter() > ends:
                process.kill()
                ends = None
            time.sleep(0.005)
        wall = time.perf_counter() - started
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        text = out.read().decode("utf-8", "replace")
    return Run(
        wall_s=wall,
        cpu_s=used.ru_utime + used.ru_stime,
        peak_mb=used.ru_maxrss / 1024,
        code=process.returncode,
        text=text,
    )


def python(*words: str, limit_s: float | None = None) -> Run:
    """Run a Python module."""
    return run([PYTHON, "-m", *words], limit_s)


def median(values: Sequence[float]) -> float:
    """Return the median, or not a number where there is nothing."""
    return statistics.median(values) if values else float("nan")
