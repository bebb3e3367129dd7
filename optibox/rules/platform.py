"""Rules of completeness, processor, memory, display, boot, firmware."""

from collections.abc import Iterator

from optibox.build import Build
from optibox.catalog.attachment import Controller, DisplayCard
from optibox.catalog.columns import Part  # noqa: TC001 - named in a typed list
from optibox.catalog.platform import (
    Board,
    Chassis,
    Cooler,
    Memory,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, Drive, HardDrive
from optibox.rules.context import Context
from optibox.rules.register import Finding, error, rule, warning

LARGEST_32_BIT_TB = 2.2
"""2^32 sectors of 512 bytes are 2.199 * 10^12 bytes."""


@rule(
    "K1",
    "Nothing is missing",
    "Without it the machine does not start; with two of it something is left over.",
    remedy="Add what is missing, take out what is too much.",
)
def completeness(context: Context) -> Iterator[Finding]:
    """Yield errors for missing and surplus parts."""
    build = context.machine.build
    board = context.machine.board
    socketed = board is not None and not board.has_soldered_processor
    wanted: list[tuple[type[Part], int, int]] = [
        (Chassis, 1, 1),
        (Board, 1, 1),
        (PowerSupply, 1, 1),
        (Memory, 1, 64),
        (Processor, int(socketed), int(socketed)),
        (Cooler, int(socketed), int(socketed)),
    ]
    for record, least, most in wanted:
        count = sum(n for _, n in build.of(record))
        if not least <= count <= most:
            yield error(
                "K1", f"{count} of kind {record.kind}, expected {_range(least, most)}"
            )
    if not context.machine.in_role("data"):
        yield error("K1", "no array drives")


def _range(least: int, most: int) -> str:
    return str(least) if least == most else f"{least} to {most}"


@rule(
    "K2",
    "List and places tell one story",
    "The list and the places tell different stories: something lies beside the machine, or sits there unlisted.",
    remedy="Correct counts or places.",
)
def places(context: Context) -> Iterator[Finding]:
    """Yield errors where drives or cards in place differ from those on the list."""
    build = context.machine.build
    placed: dict[str, int] = {}
    for use in build.drives:
        placed[use.key] = placed.get(use.key, 0) + 1
    names = {use.name for use in build.drives}
    yield from _no_drives(build)
    yield from _too_many(build)
    for slot_use in build.slots:
        if slot_use.name not in names:
            placed[slot_use.key] = placed.get(slot_use.key, 0) + 1
    for entry in build.items:
        part, key = entry.item.part, entry.item.key
        is_placed = hasattr(part, "annual_failure_rate") or hasattr(part, "bus")
        if (is_placed or isinstance(part, BootMedium)) and placed.get(
            key, 0
        ) != entry.count:
            yield error(
                "K2",
                f"{entry.count} of {key} on the list, {placed.get(key, 0)} in place",
            )


def _too_many(build: Build) -> Iterator[Finding]:
    """Yield errors for more pieces than there are: owned, or to buy with spares."""
    bought = build.bought()
    for entry in build.items + build.spares:
        item = entry.item
        count = entry.count if item.is_owned else bought.pop(item.key, 0)
        if item.limit is not None and count > item.limit:
            yield error("K2", f"{count} of {item.key}, only {item.limit} to be had")


def _no_drives(build: Build) -> Iterator[Finding]:
    for use in build.drives:
        part = build.item(use.key).part
        if not isinstance(part, Drive | BootMedium):
            yield error("K2", f"{use.name} is to be {part.name}, which is no drive")


@rule(
    "M1",
    "Memory suits board and processor",
    "A module of the wrong type, form or size does not go in or is not accepted.",
    remedy="Use modules that the board takes.",
)
def memory(context: Context) -> Iterator[Finding]:
    """Yield errors for modules that do not fit or are too many."""
    board, processor = context.machine.board, context.machine.processor
    if board is None:
        return
    modules = context.machine.build.of(Memory)
    for part, _ in modules:
        if not module_suits(part, board):
            yield error("M1", f"{part.name} does not suit {board.name}")
    count = sum(n for _, n in modules)
    if count > board.memory_slots:
        yield error(
            "M1", f"{count} modules, {board.name} has {board.memory_slots} sockets"
        )
    most = min(board.memory_max_gib, processor.memory_max_gib if processor else 1e9)
    if context.machine.memory_gib > most:
        yield error(
            "M1", f"{context.machine.memory_gib:g} GiB fitted, at most {most:g}"
        )


def module_suits(module: Memory, board: Board) -> bool:
    """Return whether a board takes a memory module."""
    return (
        module.memory_type == board.memory_type
        and module.form == board.memory_form
        and module.is_registered == board.takes_registered
        and module.gib <= board.module_max_gib
    )


@rule(
    "M2",
    "Error correction is active",
    "Memory errors are corrected only where module, processor and board all do it.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Use modules, processor and board that all correct errors.",
)
def error_correction(context: Context) -> Iterator[Finding]:
    """Yield an error where it is asked for and inactive, a warning where unused."""
    machine = context.machine
    modules = [part for part, _ in machine.build.of(Memory)]
    host = bool(
        machine.board
        and machine.board.has_ecc
        and machine.processor
        and machine.processor.has_ecc
    )
    active = host and bool(modules) and all(part.has_ecc for part in modules)
    if context.scenario.needs.ecc and not active:
        yield error("M2", "error correction is asked for and not active")
    elif any(part.has_ecc for part in modules) and not host:
        yield warning("M2", "modules carry check bits that nothing reads")


@rule(
    "M3",
    "Processor, board and cooler suit each other",
    "Another socket does not take the processor; too little cooling throttles it or shuts it down.",
    remedy="Use a processor and a cooler that suit the board.",
)
def socket(context: Context) -> Iterator[Finding]:
    """Yield errors for sockets and heat that do not match."""
    machine = context.machine
    board, processor = machine.board, machine.build.one(Processor)
    if board is None or processor is None:
        return
    if processor.socket != board.socket:
        yield error(
            "M3",
            f"{processor.name} is for {processor.socket}, {board.name} has {board.socket}",
        )
    limit = board.processor_tdp_max_w
    if limit is not None and processor.tdp_w.mid > limit.mid:
        yield error(
            "M3",
            f"{processor.name} needs {processor.tdp_w.mid:g} W, {board.name} allows {limit.mid:g} W",
        )
    for cooler, _ in machine.build.of(Cooler):
        if not cooler_suits(cooler, processor):
            yield error("M3", f"{cooler.name} does not cool {processor.name}")


def cooler_suits(cooler: Cooler, processor: Processor) -> bool:
    """Return whether a cooler fits a processor's socket and removes its heat."""
    return (
        processor.socket in cooler.sockets and processor.tdp_w.mid <= cooler.tdp_w.mid
    )


@rule(
    "L9",
    "Something shows the firmware",
    "Nobody can set the firmware up, and many boards do not start.",
    remedy="Add a display card.",
)
def display(context: Context) -> Iterator[Finding]:
    """Yield an error where nothing gives a display."""
    machine = context.machine
    board, processor = machine.board, machine.build.one(Processor)
    if board is None:
        return
    shown = (
        board.has_management
        or (board.has_soldered_processor and board.has_graphics)
        or (processor is not None and processor.has_graphics)
        or bool(machine.build.of(DisplayCard))
    )
    if not shown:
        yield error("L9", "neither graphics nor management", "add a display card")


@rule(
    "B1",
    "There is a boot device of its own",
    "There is nothing to start from, or nowhere to put it.",
    remedy="Add one boot medium that the board has a place for.",
)
def boot(context: Context) -> Iterator[Finding]:
    """Yield errors for missing boot media and missing USB places."""
    machine = context.machine
    boots = machine.in_role("boot")
    if len(boots) != 1:
        yield error("B1", f"{len(boots)} boot devices, expected 1")
    sticks = sum(
        isinstance(d.part, BootMedium) and d.part.interface == "usb" for d in boots
    )
    if machine.board and sticks > machine.board.usb_headers:
        yield error(
            "B1",
            f"{machine.board.name} has {machine.board.usb_headers} USB places inside",
        )


@rule(
    "B2",
    "Boot sticks wear out",
    "Plain flash wears out and fails without warning.",
    severities=("warning",),
    remedy="Keep an image of it, or use one with wear levelling.",
)
def boot_stick(context: Context) -> Iterator[Finding]:
    """Yield a warning for plain flash sticks."""
    for drive in context.machine.in_role("boot"):
        if isinstance(drive.part, BootMedium) and drive.part.is_flash_stick:
            yield warning(
                "B2", f"{drive.part.name} is plain flash", "keep an image of it"
            )


@rule(
    "B3",
    "Controllers pass drives through",
    "Software parity, sleep and health queries need the bare drives; a controller that shows volumes hides them.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Use a controller that passes drives through.",
)
def pass_through(context: Context) -> Iterator[Finding]:
    """Yield findings for controllers that hide drives."""
    for name, card in context.machine.cards.items():
        part = card.item.part
        if not isinstance(part, Controller):
            continue
        if part.pass_through == "no":
            yield error("B3", f"{name} ({part.name}) does not pass drives through")
        elif part.pass_through == "after new firmware":
            yield warning(
                "B3", f"{name} ({part.name}) needs pass-through firmware first"
            )
        elif part.pass_through == "unknown":
            yield warning(
                "B3", f"whether {name} ({part.name}) passes drives through is not known"
            )


@rule(
    "B4",
    "Controllers see whole drives",
    "32-bit addresses end at 2.2 TB: the rest of the drive is not there, and data beyond wrap around or are lost.",
    remedy="Use a controller with larger addresses.",
)
def addresses(context: Context) -> Iterator[Finding]:
    """Yield errors for large drives on controllers with 32-bit addresses."""
    for drive in context.bay_drives:
        wire, part = drive.connection, drive.part
        card = context.machine.cards.get(wire.host) if wire else None
        host = card.item.part if card else None
        if (
            isinstance(host, Controller)
            and host.has_32_bit_addresses
            and isinstance(part, HardDrive)
            and part.tb > LARGEST_32_BIT_TB
        ):
            yield error(
                "B4", f"{drive.name} has {part.tb:g} TB, {host.name} sees 2.2 TB of it"
            )


@rule(
    "B5",
    "Controllers let drives sleep",
    "The drives never stop, whatever the timeout says.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Use a controller that lets drives sleep, or set 'never'.",
)
def standby(context: Context) -> Iterator[Finding]:
    """Yield findings where drives are to sleep behind hosts that may not let them."""
    machine = context.machine
    if machine.operation.timeout_min is None:
        return
    for name in sorted({d.connection.host for d in machine.array if d.connection}):
        card = machine.cards.get(name)
        part = card.item.part if card else None
        if not isinstance(part, Controller):
            continue
        if part.passes_standby == "no":
            yield error("B5", f"{name} ({part.name}) does not let drives sleep")
        elif part.passes_standby == "unknown":
            yield warning(
                "B5", f"whether {name} ({part.name}) lets drives sleep is not known"
            )
