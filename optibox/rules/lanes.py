"""Rules of slots, lanes and M.2 sockets."""

from collections import Counter
from collections.abc import Iterator

from optibox.catalog.attachment import Card, NetworkCard, Riser
from optibox.catalog.columns import Part
from optibox.catalog.notation import Slot
from optibox.catalog.platform import Board, Processor
from optibox.catalog.storage import BootMedium, SolidStateDrive
from optibox.figures.chains import drive_rates
from optibox.figures.power import is_blocker
from optibox.figures.stages import network_mb_s
from optibox.machine.view import trained
from optibox.rules.context import Context
from optibox.rules.register import Finding, error, information, rule, warning

SOCKET_LANES = 4


def module_mode(part: Part) -> str:
    """Return what an M.2 module speaks; nothing for what is no module."""
    if isinstance(part, SolidStateDrive):
        return part.interface if part.form == "m2" else ""
    if isinstance(part, BootMedium):
        return (part.module_mode or "sata") if part.interface == "m2" else ""
    return "nvme" if isinstance(part, Card) and part.bus == "m2" else ""


def module_key(part: Part) -> str:
    """Return a module's notches; cautious ones fit both sockets only if said."""
    if isinstance(part, SolidStateDrive):
        return part.module_key or "M"
    return "BM"


def module_fits(part: Part, slot: Slot) -> bool:
    """Return whether an M.2 module works in a socket of a board."""
    length = getattr(part, "module_length_mm", 0) or 80
    return (
        slot.form == "m2"
        and module_mode(part) in slot.modes
        and length <= slot.length_mm
        and slot.key in module_key(part)
    )


def module_fits_riser(part: Part, riser: Riser) -> bool:
    """Return whether an M.2 module works on a riser: PCIe modules only."""
    length = getattr(part, "module_length_mm", 0) or 80
    return module_mode(part) == "nvme" and length <= riser.socket_length_mm


def card_fits_slot(card: Card, slot: Slot) -> bool:
    """Return whether a card's edge goes into a slot."""
    if card.bus == "m2":
        return module_fits(card, slot)
    return slot.form == "pcie" and card.lanes <= slot.mechanical


@rule(
    "L1",
    "Cards go into their slots",
    "A longer edge does not enter a closed shorter slot: the card cannot be fitted.",
    remedy="Use a longer or open-ended slot, or a shorter card.",
)
def edges(context: Context) -> Iterator[Finding]:
    """Yield errors for cards and modules that do not fit their slot."""
    machine = context.machine
    if machine.board is None:
        return
    by_name = {slot.name: slot for slot in machine.board.slots}
    for use in machine.build.slots:
        part = machine.build.item(use.key).part
        if use.slot in by_name:
            slot = by_name[use.slot]
            fits = (
                card_fits_slot(part, slot)
                if isinstance(part, Card)
                else module_fits(part, slot)
            )
            if not fits:
                rule_id = "L3" if module_mode(part) else "L1"
                yield error(
                    rule_id, f"{use.name} ({part.name}) does not go into {use.slot}"
                )
            continue
        yield from _on_riser(context, use.name, part, use.slot)


def _on_riser(context: Context, name: str, part: Part, place: str) -> Iterator[Finding]:
    host, _, number = place.rpartition(".")
    card = context.machine.cards.get(host)
    riser = card.item.part if card else None
    if not isinstance(riser, Riser) or not number.isdigit():
        yield error(
            "L1", f"{name} ({part.name}) is to go into {place}, which is no slot"
        )
    elif not 1 <= int(number) <= riser.n_sockets:
        yield error("L3", f"{name} is in socket {number} of {host}, which has fewer")
    elif not module_fits_riser(part, riser):
        yield error("L3", f"{name} ({part.name}) does not work on {riser.name}")


@rule(
    "L3",
    "M.2 modules suit their sockets",
    "Key, mode and length of a module must match its socket: otherwise it does not go in, or is not seen.",
    remedy="Use another socket, or a module that suits it.",
)
def modules(context: Context) -> Iterator[Finding]:
    """Yield errors for modules that sit in no slot."""
    placed = {use.name for use in context.machine.build.slots}
    for drive in context.machine.drives:
        if module_mode(drive.part) and drive.name not in placed:
            yield error("L3", f"{drive.name} ({drive.part.name}) sits in no M.2 socket")


@rule(
    "L4",
    "Shared slots and ports work together",
    "Sockets and slots share lanes: using one turns another or some ports off, and what hangs there is not seen.",
    remedy="Move one of them to another slot.",
)
def sharing(context: Context) -> Iterator[Finding]:
    """Yield errors for slots that are used twice or turned off."""
    machine = context.machine
    uses = Counter(use.slot for use in machine.build.slots)
    for slot, count in uses.items():
        if count > 1:
            yield error("L4", f"slot {slot} holds {count} devices")
        if slot in machine.slots and machine.slots[slot].lanes == 0:
            yield error("L4", f"slot {slot} is turned off by another slot in use")


@rule(
    "L2",
    "What lanes remain",
    "A slot's length says nothing of its lanes: the link runs as wide and as fast as the lesser of the two ends.",
    severities=(
        "warning",
        "information",
    ),
    remedy="Move the card to a wider slot.",
)
def trained_links(context: Context) -> Iterator[Finding]:
    """Yield information where a card runs below its own link."""
    for name, card in context.machine.cards.items():
        part, slot = card.item.part, card.slot
        if slot is None or not isinstance(part, Card) or slot.lanes == 0:
            continue
        generation, lanes = trained(part, slot)
        if (generation, lanes) >= (part.generation, part.lanes):
            continue
        text = (
            f"{name} ({part.name}, Gen{part.generation} x{part.lanes}) runs at "
            f"Gen{generation} x{lanes} in {slot.name}"
        )
        link, wanted = context.machine.links.get(slot.name), _wanted_mb_s(context, name)
        if link is not None and link.budget_mb_s < wanted:
            yield warning(
                "L2",
                f"{text}: {link.budget_mb_s:.0f} MB/s for {wanted:.0f} MB/s behind it",
            )
        else:
            yield information("L2", text)


def _wanted_mb_s(context: Context, name: str) -> float:
    """Return what the card's own drives or network port can move at once. [MB/s]."""
    machine = context.machine
    part = machine.cards[name].item.part
    if isinstance(part, NetworkCard):
        return network_mb_s(part.network_gbit_s, machine.factors)
    drives = [
        drive
        for drive in machine.drives
        if drive.connection is not None and drive.connection.host == name
    ]
    return sum(drive_rates(machine, drives, 0.0))


@rule(
    "L7",
    "Fast links go over no riser",
    "From generation 4 on a riser's extra plug costs signal: links fall back a "
    "generation or report errors. Common practice, no source.",
    severities=("warning",),
    remedy="Set the slot to generation 3, or put the module into a socket of the board.",
)
def riser_signal(context: Context) -> Iterator[Finding]:
    """Yield warnings for risers whose link trains at generation 4 or more."""
    for name, card in context.machine.cards.items():
        riser, slot = card.item.part, card.slot
        if isinstance(riser, Riser) and slot is not None:
            generation, _ = trained(riser, slot)
            if generation >= FIRST_DELICATE_GENERATION:
                yield warning(
                    "L7",
                    f"{name} ({riser.name}) runs at Gen{generation} in {slot.name}",
                )


FIRST_DELICATE_GENERATION = 4


@rule(
    "L8",
    "Cards let the processor sleep deeply",
    "One card without active-state power management keeps the whole package awake, day "
    "and night. Forcing it on can hang the machine.",
    severities=("warning",),
    remedy="Use cards that are known to let it sleep: exchange all of them or none.",
)
def deep_sleep(context: Context) -> Iterator[Finding]:
    """Yield one warning for all cards that block, or may block, deep idle."""
    machine = context.machine
    loss = machine.board.deep_idle_loss_w.mid if machine.board else 0.0
    cards = [card for card in machine.cards.values() if is_blocker(card.item.part)]
    if not loss or not cards:
        return
    known = any(getattr(c.item.part, "blocks_deep_idle", "") == "yes" for c in cards)
    names = ", ".join(f"{card.name} ({card.item.part.name})" for card in cards)
    verb = ("keeps" if len(cards) == 1 else "keep") if known else "may keep"
    its = "its" if len(cards) == 1 else "their"
    yield warning(
        "L8",
        f"{names} {verb} the processor out of deep idle: {loss:g} W beside {its} own",
    )


@rule(
    "L5",
    "Risers get their lanes split",
    "A passive riser shows only its first module unless the slot splits its lanes.",
    severities=(
        "error",
        "information",
    ),
    remedy="Use a riser with a switch chip, or a slot that bifurcates.",
)
def bifurcation(context: Context) -> Iterator[Finding]:
    """Yield errors for passive risers with several modules in unsplit slots."""
    machine = context.machine
    for name, card in machine.cards.items():
        riser, slot = card.item.part, card.slot
        if not isinstance(riser, Riser) or slot is None:
            continue
        n_used = sum(u.slot.rpartition(".")[0] == name for u in machine.build.slots)
        lanes = min(slot.lanes, riser.lanes)
        if n_used and lanes < SOCKET_LANES and not riser.has_switch:
            yield information("L5", f"{name} runs its module at x{lanes}")
        if riser_works(riser, slot, n_used, machine.processor):
            continue
        yield error(
            "L5",
            f"{name} carries {n_used} modules in {slot.name} (x{slot.lanes}), which is "
            "not split for them",
            "use a riser with a switch chip, or a slot that bifurcates",
        )


def riser_works(
    riser: Riser, slot: Slot, n_used: int, processor: Board | Processor | None
) -> bool:
    """Return whether a riser shows all its modules in a slot."""
    if riser.has_switch or n_used <= 1:
        return True
    splits = slot.can_bifurcate and (
        isinstance(processor, Board)
        or (processor is not None and processor.can_bifurcate)
    )
    return splits and min(slot.lanes, riser.lanes) >= SOCKET_LANES * n_used


@rule(
    "L6",
    "The processor has the lanes",
    "Slots beyond the processor's lanes stay dark.",
    remedy="Leave a slot empty or take a processor with more lanes.",
)
def processor_lanes(context: Context) -> Iterator[Finding]:
    """Yield an error where used processor slots need more lanes than there are."""
    machine = context.machine
    if machine.processor is None:
        return
    used = sum(
        slot.lanes
        for name, slot in machine.slots.items()
        if name in machine.used_slots and slot.uplink == "cpu"
    )
    if used > machine.processor.cpu_lanes:
        yield error(
            "L6",
            f"slots in use need {used} lanes, {machine.processor.name} has "
            f"{machine.processor.cpu_lanes}",
        )
