"""Every factor of the model that is a judgement, with its bounds.

A scenario's ``[overrides]`` or a file of measured figures replaces any of them.
"""

from typing import Annotated

from pydantic import AfterValidator, BeforeValidator

from optibox.catalog.columns import Figure, Fraction, Record, Unit, as_figure, col

Positive = Annotated[
    Figure, BeforeValidator(as_figure), AfterValidator(Unit("", 0.01, 10_000))
]


def _factor(meaning: str, mid: float, low: float, high: float) -> Figure:
    return col(meaning, Figure(low, mid, high))  # type: ignore[no-any-return]


class Factors(Record):
    """Named factors; each default is common practice or judgement unless said."""

    read_modify_write: Fraction = _factor(
        "Share of the drive's rate that read-modify-write reaches", 0.55, 0.45, 0.58
    )
    reconstruct: Fraction = _factor(
        "Share of the slowest drive's rate that reconstruct write reaches",
        0.72,
        0.65,
        0.90,
    )
    stripe: Fraction = _factor(
        "Share of the drives' summed rate that a stripe reaches", 0.90, 0.85, 0.95
    )
    pcie: Fraction = _factor("Share of a PCIe link's raw rate", 0.85, 0.80, 0.90)
    sata_6g_mb_s: Positive = _factor("Planning rate of SATA 6 Gb/s", 550, 530, 560)
    sata_3g_mb_s: Positive = _factor("Planning rate of SATA 3 Gb/s", 275, 260, 280)
    multiplier_host_mb_s: Positive = _factor(
        "Host link of a multiplier with FIS-based switching", 520, 480, 550
    )
    multiplier_single_drive: Fraction = _factor(
        "Share of its rate that one drive keeps behind a multiplier", 0.83, 0.80, 1.0
    )
    network_sharing: Fraction = _factor(
        "Share of the network's payload that file sharing reaches", 0.90, 0.80, 0.97
    )
    filesystem_reserve: Fraction = _factor(
        "Share of the array that the file system keeps", 0.02, 0.01, 0.05
    )
    fill_limit: Fraction = _factor("Share of the file system to fill", 0.95, 0.90, 1.0)
    cache_reserve: Fraction = _factor("Share of the cache kept free", 0.10, 0.05, 0.20)
    write_amplification: Positive = _factor(
        "Flash writes per host write", 1.2, 1.0, 2.0
    )
    wear_budget: Fraction = _factor(
        "Share of a cycle rating that the years may use", 0.5, 0.5, 0.5
    )
    interval_margin: Positive = _factor(
        "How many times ingest and flush must fit into their day", 2.0, 2.0, 2.0
    )
    rail_share: Fraction = _factor("Share of a 12 V rail to plan with", 0.8, 0.8, 0.8)
    sata_plug_a: Positive = _factor(
        "Most current through a SATA power plug, on each voltage [A]", 4.5, 4.5, 4.5
    )
    peripheral_plug_a: Positive = _factor(
        "Most current through a 4-pin power plug, on each voltage [A]", 8.0, 7.0, 9.0
    )
    power_lead_a: Positive = _factor(
        "Most current in a power lead of 18 AWG, on each voltage [A]", 8.0, 7.0, 9.0
    )
    contact_mohm: Positive = _factor(
        "Resistance of a power plug, both ways [mOhm]", 10.0, 5.0, 20.0
    )
    rail_tolerance: Fraction = _factor(
        "Share by which a voltage may fall short at a drive", 0.05, 0.05, 0.05
    )
