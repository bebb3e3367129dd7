"""Which hard drives may have which role in an entry."""

from optibox.build import Item
from optibox.catalog.storage import HardDrive
from optibox.figures.money import wear_limit_ok
from optibox.model.menu import Entry, Storage, rate_of
from optibox.rules.demands import misses
from optibox.scenario import Scenario


def least_drive_mb_s(storage: Storage, scenario: Scenario) -> float:
    """Return the rate below which one drive alone breaks a need. [MB/s]."""
    needs, factors = scenario.needs, scenario.overrides
    write = needs.write_mb_s
    if storage.cache == "none":
        write = max(write, needs.ingest_mb_s)
    n, layout = storage.n_data, storage.layout
    if layout == "striped":
        width = (n - storage.n_parity) * factors.stripe.mid
        return max(write, needs.read_mb_s) / width
    if layout == "striped pairs":
        return max(write, needs.read_mb_s) / (n / 2 * factors.stripe.mid)
    if layout == "pairs" or storage.n_parity == 0:
        return max(write, needs.read_mb_s)
    factor = factors.reconstruct if storage.reconstructs else factors.read_modify_write
    return max(write / factor.mid, needs.read_mb_s)


def is_eligible(item: Item, role: str, entry: Entry) -> bool:
    """Return whether a hard drive may have a role: recording, wear budget, rate."""
    part, storage, scenario = item.part, entry.storage, entry.scenario
    if not isinstance(part, HardDrive):
        return False
    if not records_well(part, role, storage):
        return False
    if not wear_limit_ok(item.starts, entry.wakes(role), part, scenario):
        return False
    least = least_role_mb_s(role, storage, scenario)
    return not misses(rate_of(item, scenario), least)


def least_role_mb_s(role: str, storage: Storage, scenario: Scenario) -> float:
    """Return the rate below which a drive in a role breaks a need. [MB/s].

    Parity is only written, so that the read need does not bind it.
    """
    if role != "parity":
        return least_drive_mb_s(storage, scenario)
    needs, factors = scenario.needs, scenario.overrides
    write = max(needs.write_mb_s, needs.ingest_mb_s if storage.cache == "none" else 0.0)
    factor = factors.reconstruct if storage.reconstructs else factors.read_modify_write
    return write / factor.mid


def records_well(part: HardDrive, role: str, storage: Storage) -> bool:
    """Return whether a drive's recording suits a role and layout."""
    if part.recording == "conventional":
        return True
    if role == "parity":
        return False
    return not ("striped" in storage.layout and part.recording == "shingled")
