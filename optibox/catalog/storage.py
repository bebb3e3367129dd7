"""Kinds that hold data, and what fits them into bays."""

from typing import ClassVar, Literal

from optibox.catalog.columns import (
    Amps,
    Cycles,
    Figure,
    Fraction,
    Gigabit,
    Joules,
    Known,
    Millimetres,
    Part,
    RateMbS,
    Seconds,
    Tbw,
    Terabytes,
    Watts,
    YesNo,
    col,
)
from optibox.units import BYTES_PER_GB, BYTES_PER_TB

Holes = Literal["all", "no middle side", "unknown"]

_LBA_BASE_GB = 50
_LBA_BASE_SECTORS = 97_696_368
_LBA_SECTORS_PER_GB = 1_953_504


def nominal_sectors(capacity_gb: float) -> int:
    """Return the 512-byte sectors of a drive of a printed capacity.

    The trade's common counting rule (IDEMA document LBA1-03, quoted from memory):
    97 696 368 + 1 953 504 * (GB - 50), defined from 50 GB on. Smaller media get
    their plain bytes.

    Examples
    --------
    >>> nominal_sectors(4000)
    7814037168
    """
    if capacity_gb < _LBA_BASE_GB:
        return int(capacity_gb * BYTES_PER_GB // 512)
    return int(_LBA_BASE_SECTORS + _LBA_SECTORS_PER_GB * (capacity_gb - _LBA_BASE_GB))


class Drive(Part):
    """What hard and solid-state drives share."""

    tb: Terabytes = col("Printed capacity in TB (10^12 bytes)")
    sectors: int | None = col("Sectors of 512 bytes; blank = the counting rule", None)
    idle_w: Watts = col("Power at the part, idle (spinning, heads loaded)")
    active_w: Watts = col("Power at the part, reading or writing")
    run_5v_a: Amps = col("Current on 5 V while working")
    annual_failure_rate: Fraction = col("Share of such drives that fail in a year")
    bit_error_rate: Figure = col(
        "Unreadable bits per bit read (a datasheet's ceiling)",
        Figure(1e-16, 1e-15, 1e-14),
    )

    @property
    def capacity_bytes(self) -> int:
        """Return the bytes that the drive's sectors hold."""
        sectors = self.sectors or nominal_sectors(self.tb * BYTES_PER_TB / BYTES_PER_GB)
        return sectors * 512


class HardDrive(Drive):
    """A drive with platters."""

    kind: ClassVar[str] = "hard drive"
    headline: ClassVar[tuple[str, ...]] = ("tb", "recording")

    form: Literal["3.5", "2.5"] = col("Width in inches", "3.5")
    height_mm: Millimetres = col("Height", 26.1)
    interface: Literal["sata", "sas"] = col("Plug and protocol", "sata")
    link_gbit_s: Gigabit = col("Fastest line rate of its interface", 6.0)
    sector_logical_b: Literal[512, 4096] = col("Logical sector size", 512)
    sector_physical_b: Literal[512, 4096] = col("Physical sector size", 4096)
    recording: Literal["conventional", "shingled", "unknown"] = col(
        "How tracks are laid; unknown is treated as shingled for parity", "unknown"
    )
    has_power_disable: Known = col("Holds in reset at 3.3 V on power pin 3", "unknown")
    has_bounded_recovery: Known = col("Gives up on a bad sector in time", "unknown")
    side_holes: Holes = col("Mounting holes in its sides", "unknown")
    is_vibration_rated: YesNo = col("Made for cages of many drives", default=False)
    outer_rate_mb_s: RateMbS = col("Transfer rate at the outer edge (empty)")
    inner_ratio: Fraction = col("Inner over outer transfer rate")
    standby_w: Watts = col("Power at the part, platters stopped")
    spin_up_12v_a: Amps = col("Current on 12 V while spinning up")
    run_12v_a: Amps = col("Current on 12 V while working")
    spin_up_s: Seconds = col("Time to spin up")
    spin_up_j: Joules = col("Energy of one spin-up beyond idling")
    start_stop_rating: Cycles = col("Rated start/stop cycles")
    load_unload_rating: Cycles = col("Rated load/unload cycles")

    @property
    def counts_as_shingled(self) -> bool:
        """Return whether stripes and parity must refuse the drive."""
        return self.recording != "conventional"


class SolidStateDrive(Drive):
    """A drive without moving parts, as cache or boot device."""

    kind: ClassVar[str] = "solid-state drive"
    headline: ClassVar[tuple[str, ...]] = ("tb", "interface")

    interface: Literal["sata", "nvme"] = col("Plug and protocol")
    form: Literal["2.5", "m2"] = col("Bay drive or module")
    module_length_mm: Literal[0, 30, 42, 60, 80, 110] = col("Length of a module", 0)
    module_key: Literal["", "M", "BM"] = col("Notches of a module", "")
    height_mm: Millimetres = col("Height of a bay drive", 7.0)
    generation: Literal[0, 1, 2, 3, 4, 5] = col("PCIe generation", 0)
    lanes: Literal[0, 1, 2, 4] = col("PCIe lanes", 0)
    read_mb_s: RateMbS = col("Sustained reading rate")
    write_mb_s: RateMbS = col("Sustained writing rate once the fast region is full")
    fast_write_mb_s: RateMbS | None = col("Writing rate into the fast region", None)
    fast_gb: float = col("Size of the fast region, 0 = none", 0.0)
    tbw: Tbw = col("Rated terabytes written")
    has_power_loss_protection: YesNo = col("Finishes writes on a cut", default=False)
    side_holes: Holes = col("Mounting holes in its sides", "all")


class BootMedium(Part):
    """What the system starts from."""

    kind: ClassVar[str] = "boot medium"
    headline: ClassVar[tuple[str, ...]] = ("interface", "gb")

    interface: Literal["usb", "sata", "m2"] = col("Where it plugs in")
    module_length_mm: Literal[0, 30, 42, 60, 80, 110] = col("Length of a module", 0)
    module_mode: Literal["", "sata", "nvme"] = col("What a module speaks", "")
    gb: float = col("Capacity", 16.0)
    idle_w: Watts = col("Power at the part, idle")
    active_w: Watts | None = col("Power at the part, busy; blank = idle", None)
    run_5v_a: Amps = col("Current on 5 V while working")
    is_flash_stick: YesNo = col("Plain USB flash without wear levelling", default=False)
    needs_bay: YesNo = col("Occupies a 2.5 inch bay", default=False)


class DriveAdapter(Part):
    """A frame that fits one 2.5 inch drive into a 3.5 inch bay."""

    kind: ClassVar[str] = "drive adapter"
    headline: ClassVar[tuple[str, ...]] = ("fits_tray",)

    fits_tray: YesNo = col("Its holes meet those of hot-swap trays", default=False)
    max_height_mm: Millimetres = col("Tallest drive it takes", 9.5)
