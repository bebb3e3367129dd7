"""The record of a case, and wiring and parts that several cases share."""

from dataclasses import dataclass

from tests.unit.rules.bench import DRIVES, Bench


@dataclass(frozen=True)
class Case:
    """One machine with all that is to be said about it."""

    name: str
    bench: Bench
    expected: tuple[str, ...]


CASES: list[Case] = []


def case(name: str, expected: str, **bench) -> None:
    """Enter a machine with its findings, such as 'F1 E, C3 E'."""
    told = tuple(sorted(filter(None, (word.strip() for word in expected.split(",")))))
    CASES.append(Case(name, Bench(**bench), told))


HDD = {"has_bounded_recovery": "yes", "is_vibration_rated": True}
NVME = {
    "form": "m2",
    "interface": "nvme",
    "module_key": "M",
    "module_length_mm": 80,
    "generation": 3,
    "lanes": 4,
    "has_power_loss_protection": True,
}
SATA_SSD = {"has_power_loss_protection": True}
HBA = {
    "connectors": "1 sff-8087",
    "native_ports": 4,
    "lanes": 4,
    "speaks_sas": True,
    "has_hot_plug": True,
}
FORWARD = {"direction": "forward", "controller_end": "sff-8087"}
REVERSE = {"direction": "reverse", "drive_end": "sff-8087", "has_sideband": True}
STRAIGHT = {
    "direction": "straight",
    "controller_end": "sff-8087",
    "drive_end": "sff-8087",
    "has_sideband": True,
}
TRAYS_8087 = {"backplane_connector": "sff-8087", "backplane_power": "peripheral 1"}
BOTH_PLUGS = {"leads": "sata 4 | peripheral 2"}
ON_REVERSE = {
    name: {"cable": "piece", "cable_key": "rev"}
    for name in ("data-1", "data-2", "parity-1")
}
X4_SLOT = {"slots": "P1 x4 gen3 cpu | P2 x4 gen3 cpu"}


def on(
    host: str, *, connector: int | None = None, cable: str = "", piece: str = ""
) -> dict:
    """Return the array's drives moved to a host: its plain ports, or one connector."""
    wires = {}
    for number, name in enumerate(("data-1", "data-2", "parity-1"), 1):
        wires[name] = {"host": host}
        if connector is None:
            wires[name] |= {"connector": number}
        else:
            wires[name] |= {"connector": connector, "port": number}
        if cable:
            wires[name] |= {"cable_key": cable, "cable": piece or f"cable-{number}"}
    return wires


def more_drives(n: int, key: str = "hdd-b") -> tuple:
    """Return the clean machine's drives with so many more data drives."""
    return (*DRIVES, *((f"data-{i}", key, "data") for i in range(3, 3 + n)))
