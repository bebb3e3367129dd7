"""The rates that needs speak of."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Rates:
    """What a machine reads, writes and takes in. [MB/s]."""

    read_mb_s: float
    write_mb_s: float
    ingest_mb_s: float
