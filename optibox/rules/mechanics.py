"""Rules of mechanics: forms, bays, holes, heights, brackets."""

from collections.abc import Iterator

from optibox.catalog.attachment import Card
from optibox.catalog.platform import Cooler, MountingPlate
from optibox.catalog.storage import DriveAdapter, HardDrive, SolidStateDrive
from optibox.machine import DriveView
from optibox.machine.bays import bay_number, is_on_backplane
from optibox.rules.context import Context, width_of
from optibox.rules.register import Finding, error, rule, warning


@rule(
    "F1",
    "The board's form fits the chassis",
    "Screws and rear openings do not meet: the board cannot be fitted.",
    remedy="Choose a chassis that takes the form.",
)
def board_form(context: Context) -> Iterator[Finding]:
    """Yield an error where the chassis does not take the board's form."""
    chassis, board = context.machine.chassis, context.machine.board
    if chassis and board and board.form not in chassis.board_forms:
        takes = ", ".join(chassis.board_forms)
        yield error(
            "F1",
            f"{board.name} is {board.form}; {chassis.name} takes {takes}",
            "choose a chassis that takes the form",
        )


@rule(
    "F2",
    "Every drive has a bay of its size",
    "A drive without a fitting bay hangs loose; it vibrates, overheats and breaks its plugs.",
    remedy="Use a free bay, an adapter, or a larger chassis.",
)
def bays(context: Context) -> Iterator[Finding]:
    """Yield errors for bays that do not exist, are taken twice or do not fit."""
    chassis = context.machine.chassis
    if chassis is None:
        return
    taken: set[str] = set()
    for drive in context.bay_drives:
        wire = drive.connection
        if wire is None or not (width := width_of(drive)):
            continue
        if not wire.bay:
            yield error(
                "F2",
                f"{drive.name} ({width} inch) has no bay; {chassis.name} has "
                f"{chassis.bays_35} bays of 3.5 and {chassis.bays_25} of 2.5 inch",
                "use a free bay or a larger chassis",
            )
            continue
        size, number = bay_number(wire.bay)
        have = chassis.bays_35 if size == "3.5" else chassis.bays_25
        if size not in ("3.5", "2.5") or not 1 <= number <= have:
            yield error(
                "F2",
                f"{drive.name} is to go into bay '{wire.bay}', but {chassis.name} has "
                f"{chassis.bays_35} bays of 3.5 and {chassis.bays_25} of 2.5 inch",
                "use a free bay or a larger chassis",
            )
        elif wire.bay in taken:
            yield error("F2", f"bay {wire.bay} holds two drives", "move one of them")
        elif width > size:
            yield error("F2", f"{drive.name} is {width} inch wide, bay {wire.bay} less")
        else:
            yield from _small_drive(context, drive, size, width)
        taken.add(wire.bay)


def _small_drive(
    context: Context, drive: DriveView, size: str, width: str
) -> Iterator[Finding]:
    chassis, wire = context.machine.chassis, drive.connection
    if width != "2.5" or chassis is None or wire is None:
        return
    part = drive.part
    height = part.height_mm if isinstance(part, HardDrive | SolidStateDrive) else 7.0
    if size == "2.5":
        if height > chassis.bay_25_height_mm:
            yield error(
                "F2",
                f"{drive.name} is {height:g} mm high, bay {wire.bay} takes "
                f"{chassis.bay_25_height_mm:g} mm",
            )
        return
    adapter = _adapter(context, wire.adapter_key)
    if adapter is None:
        yield error(
            "F2",
            f"{drive.name} is 2.5 inch in bay {wire.bay} without a drive adapter",
            "add a drive adapter",
        )
    elif height > adapter.max_height_mm:
        yield error(
            "F2",
            f"{drive.name} is {height:g} mm high, its adapter takes "
            f"{adapter.max_height_mm:g} mm",
        )


def _adapter(context: Context, key: str) -> DriveAdapter | None:
    if not key:
        return None
    try:
        part = context.machine.build.item(key).part
    except KeyError:
        return None
    return part if isinstance(part, DriveAdapter) else None


@rule(
    "F2a",
    "Every adapter in use is on the list",
    "Each small drive in a large bay wants a frame of its own.",
    remedy="Add drive adapters.",
)
def adapter_count(context: Context) -> Iterator[Finding]:
    """Yield an error where fewer adapters are listed than used."""
    used: dict[str, int] = {}
    for drive in context.bay_drives:
        if drive.connection is not None and drive.connection.adapter_key:
            key = drive.connection.adapter_key
            used[key] = used.get(key, 0) + 1
    for key, count in used.items():
        have = sum(e.count for e in context.machine.build.items if e.item.key == key)
        if have < count:
            yield error("F2a", f"{count} of {key} in use, {have} on the list")


@rule(
    "F3",
    "Drive holes meet the tray's",
    "Large drives lack the middle side holes: the tray's screws find nothing to hold.",
    severities=(
        "error",
        "warning",
    ),
    remedy="Use drives with those holes, or a chassis whose trays use others.",
)
def tray_holes(  # noqa: C901 - drives and frames share the trays
    context: Context,
) -> Iterator[Finding]:
    """Yield errors for drives and adapters whose holes do not meet the tray's."""
    chassis = context.machine.chassis
    if chassis is None:
        return
    for drive in context.bay_drives:
        part, wire = drive.part, drive.connection
        if wire is None or bay_number(wire.bay)[0] != "3.5":
            continue
        if isinstance(part, HardDrive) and part.form == "3.5":
            if chassis.tray_holes != "middle side only":
                continue
            if part.side_holes == "no middle side":
                yield error(
                    "F3",
                    f"{drive.name} has no middle side holes, the trays of "
                    f"{chassis.name} use nothing else",
                )
            elif part.side_holes == "unknown":
                yield warning(
                    "F3",
                    f"whether {drive.name} has middle side holes is not known; the "
                    f"trays of {chassis.name} use nothing else",
                )
            continue
        adapter = _adapter(context, wire.adapter_key)
        on_tray = is_on_backplane(chassis, wire.bay) and chassis.tray_holes != "none"
        if adapter is not None and on_tray and not adapter.fits_tray:
            yield error("F3", f"the adapter of {drive.name} does not fit a tray")


@rule(
    "F4",
    "The cooler fits under the lid",
    "The lid does not close, or presses on the cooler.",
    remedy="Choose a lower cooler.",
)
def cooler_height(context: Context) -> Iterator[Finding]:
    """Yield an error where a cooler is higher than the chassis allows."""
    chassis = context.machine.chassis
    for cooler, _ in context.machine.build.of(Cooler):
        if chassis and cooler.height_mm > chassis.cooler_clearance_mm:
            yield error(
                "F4",
                f"{cooler.name} is {cooler.height_mm:g} mm high, {chassis.name} "
                f"leaves {chassis.cooler_clearance_mm:g} mm",
                "choose a lower cooler",
            )


def card_fits(card: Card, bracket: str, clearance_mm: float) -> bool:
    """Return whether a card's bracket and length fit a chassis."""
    if card.bus == "m2":
        return True
    if bracket == "none" or (bracket == "low" and card.bracket == "full"):
        return False
    return card.length_mm <= clearance_mm


@rule(
    "F5",
    "Card brackets and lengths fit",
    "The card does not go in, or its bracket does not meet the rear wall.",
    remedy="Use a card that suits the chassis.",
)
def brackets(context: Context) -> Iterator[Finding]:
    """Yield errors for cards that the chassis does not take."""
    chassis = context.machine.chassis
    if chassis is None:
        return
    for name, card in context.machine.cards.items():
        part = card.item.part
        if isinstance(part, Card) and not card_fits(
            part, chassis.bracket, chassis.card_clearance_mm
        ):
            takes = f"{chassis.bracket} brackets up to {chassis.card_clearance_mm:g} mm"
            if chassis.bracket == "none":
                takes = "no upright cards: they want a riser that lays them flat"
            yield error(
                "F5",
                f"{name} ({part.name}) has a {part.bracket} bracket and is "
                f"{part.length_mm:g} mm long; {chassis.name} takes {takes}",
            )


@rule(
    "F6",
    "The supply fits its opening",
    "The supply does not go into its opening: forms differ by centimetres.",
    remedy="Choose another supply or a mounting plate.",
)
def supply_form(context: Context) -> Iterator[Finding]:
    """Yield an error where neither the opening nor a plate takes the supply."""
    chassis, supply = context.machine.chassis, context.machine.supply
    if chassis is None or supply is None or supply.form == "brick":
        return
    forms = set(chassis.supply_forms)
    plates = {
        plate.supply_form
        for plate, _ in context.machine.build.of(MountingPlate)
        if plate.opening_form in forms
    }
    if supply.form not in forms | plates:
        yield error(
            "F6",
            f"{supply.name} is {supply.form}; {chassis.name} takes "
            f"{', '.join(chassis.supply_forms)}",
            "choose another supply or a mounting plate",
        )
