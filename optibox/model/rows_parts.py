"""Rows: one of each, what suits what, slots and sharing, boot, network, display."""

from collections.abc import Callable

from optibox.build import Item
from optibox.catalog.attachment import (
    Card,
    DisplayCard,
    NetworkCard,
    NetworkLead,
    Riser,
)
from optibox.catalog.columns import Part
from optibox.catalog.notation import SharingRule
from optibox.catalog.platform import (
    Chassis,
    Cooler,
    Memory,
    MountingPlate,
    PowerSupply,
    Processor,
)
from optibox.catalog.storage import BootMedium, SolidStateDrive
from optibox.model.draft import (
    Berth,
    Draft,
    carries_ingest,
    is_usb_boot,
    network_fits,
    riser_sockets,
)
from optibox.model.solver import Expression, total
from optibox.rules.lanes import module_fits_riser, module_mode
from optibox.rules.mechanics import card_fits
from optibox.rules.platform import cooler_suits, module_suits


def chosen(
    draft: Draft, record: type[Part], accept: Callable[[Part], bool] | None = None
) -> Expression:
    """Return how many loose items of a kind that pass a test are chosen."""
    return total(
        (draft.loose[item.key], 1.0)
        for item in draft.of(record)
        if item.key in draft.loose and (accept is None or accept(item.part))
    )


def one_of_each(draft: Draft) -> None:
    """Require one chassis, supply and boot medium, a processor where socketed."""
    require, board = draft.program.require, draft.board_part
    socketed = 0.0 if board.has_soldered_processor else 1.0
    require("one_chassis", chosen(draft, Chassis), "=", 1.0)
    require("one_supply", chosen(draft, PowerSupply), "=", 1.0)
    require("one_processor", chosen(draft, Processor), "=", socketed)
    require("one_cooler", chosen(draft, Cooler), "=", socketed)
    boots = total((draft.count(item), 1.0) for item in draft.of(BootMedium))
    require("one_boot", boots, "=", 1.0)
    sticks = chosen(draft, BootMedium, is_usb_boot)
    require("usb_places", sticks, "<=", float(board.usb_headers))


def platform_suits(draft: Draft) -> None:
    """Fix to 0 what does not suit the board; pair what depends on each other."""
    board, require = draft.board_part, draft.program.require

    def ban(record: type[Part], accept: Callable[[Part], bool]) -> None:
        wrong = chosen(draft, record, lambda part: not accept(part))
        require("suits_board", wrong, "<=", 0.0)

    ban(Chassis, lambda part: board.form in part.board_forms)  # type: ignore[attr-defined]
    ban(Processor, lambda part: _processor_suits(part, draft))
    ban(Memory, lambda part: isinstance(part, Memory) and module_suits(part, board))
    ban(PowerSupply, lambda part: _plugs_suit(part, draft))
    for processor in draft.of(Processor):
        fitting = chosen(
            draft,
            Cooler,
            lambda c, p=processor.part: cooler_suits(c, p),  # type: ignore[misc]
        )
        row = draft.loose[processor.key].copy().plus(fitting, -1.0)
        require("cooler_suits", row, "<=", 0.0)
    _forms(draft)


def _processor_suits(part: Part, draft: Draft) -> bool:
    board = draft.board_part
    if not isinstance(part, Processor) or part.socket != board.socket:
        return False
    limit = board.processor_tdp_max_w
    return limit is None or part.tdp_w.mid <= limit.mid


def _plugs_suit(part: Part, draft: Draft) -> bool:
    board = draft.board_part
    if not isinstance(part, PowerSupply) or part.power_plug != board.power_inlet:
        return False
    return part.power_plug == "dc" or part.cpu_power_plugs >= board.cpu_power_plugs


def _forms(draft: Draft) -> None:
    """Pair chassis with coolers, supplies and cards by what the chassis takes."""
    require = draft.program.require
    for cooler in draft.of(Cooler):
        room = chosen(
            draft,
            Chassis,
            lambda c, h=cooler.part: c.cooler_clearance_mm >= h.height_mm,  # type: ignore[misc]
        )
        row = draft.loose[cooler.key].copy().plus(room, -1.0)
        require("cooler_clears", row, "<=", 0.0)
    for form in sorted({s.part.form for s in draft.of(PowerSupply)} - {"brick"}):  # type: ignore[attr-defined]
        supplies = chosen(draft, PowerSupply, lambda s, f=form: s.form == f)  # type: ignore[misc]
        takers = chosen(draft, Chassis, lambda c, f=form: f in c.supply_forms)  # type: ignore[misc]
        plates = chosen(draft, MountingPlate, lambda m, f=form: m.supply_form == f)  # type: ignore[misc]
        row = supplies.copy().plus(takers, -1.0).plus(plates, -1.0)
        require("supply_fits", row, "<=", 0.0)
    for plate in draft.of(MountingPlate):
        takers = chosen(
            draft,
            Chassis,
            lambda c, m=plate.part: m.opening_form in c.supply_forms,  # type: ignore[misc]
        )
        row = draft.loose[plate.key].copy().plus(takers, -1.0)
        require("plate_fits", row, "<=", 0.0)
    _cards_fit(draft)


def _cards_fit(draft: Draft) -> None:
    for item in draft.of(Card, *_card_kinds()):
        part = item.part
        if not isinstance(part, Card) or part.bus == "m2":
            continue
        takers = chosen(
            draft,
            Chassis,
            lambda c, k=part: card_fits(k, c.bracket, c.card_clearance_mm),  # type: ignore[misc]
        )
        for (key, _), one in draft.placed.items():
            if key == item.key:
                row = one.copy().plus(takers, -1.0)
                draft.program.require("card_fits", row, "<=", 0.0)


def _card_kinds() -> tuple[type[Part], ...]:
    from optibox.catalog.attachment import Controller  # noqa: PLC0415

    return (Controller, NetworkCard, Riser, DisplayCard)


def memory_enough(draft: Draft) -> None:
    """Require the memory needed, within sockets and the most that is addressed."""
    require, board = draft.program.require, draft.board_part
    modules = list(draft.of(Memory))
    size = total((draft.loose[m.key], m.part.gib) for m in modules)  # type: ignore[attr-defined]
    need = draft.entry.scenario.needs.memory_gib
    require("memory_needed", size, ">=", need)
    require("memory_sockets", chosen(draft, Memory), "<=", float(board.memory_slots))
    require("memory_least", chosen(draft, Memory), ">=", 1.0)
    require("memory_most", size, "<=", board.memory_max_gib)
    if not board.has_soldered_processor:
        most = total(
            (draft.loose[p.key], p.part.memory_max_gib)  # type: ignore[attr-defined]
            for p in draft.of(Processor)
        )
        require("memory_most", size.copy().plus(most, -1.0), "<=", 0.0)


def slots_shared(draft: Draft) -> None:
    """Put one device into a slot, and apply what using it takes away elsewhere."""
    require, board = draft.program.require, draft.board_part
    rules = board.sharing
    active = [rule_in_force(draft, rule) for rule in rules]
    for slot in board.slots:
        used = _used(draft, slot.name)
        off = total(
            (flag, 1.0)
            for flag, rule in zip(active, rules, strict=True)
            if rule.other_slot == slot.name and rule.other_lanes == 0
        )
        n_off = max(1, len(off.terms))
        require("slot_once", used, "<=", 1.0)
        if off.terms:
            require("slot_off", used.copy().plus(off, 1.0 / n_off), "<=", 1.0)
        _lanes(draft, slot.name, slot.lanes, rules, active)
    _limits_of_cards(draft)


def _used(draft: Draft, slot: str) -> Expression:
    return total(
        (one, 1.0)
        for (_, berth), one in draft.placed.items()
        if berth.slot.name == slot
    )


def rule_in_force(draft: Draft, rule: SharingRule) -> Expression:
    """Return 1 where a sharing rule is in force: its slot is used in its mode."""
    found = Expression()
    by_key = {item.key: item for item in draft.everything()}
    for (key, berth), one in draft.placed.items():
        part = by_key[key].part
        mode = module_mode(part) or "pcie"
        if berth.slot.name == rule.slot and rule.mode in ("", mode):
            found.plus(one)
    return found


def _lanes(
    draft: Draft,
    slot: str,
    full: int,
    rules: tuple[SharingRule, ...],
    active: list[Expression],
) -> None:
    """Allow each number of lanes only in the sharing states that leave it."""
    narrowing = [
        (rule, flag)
        for rule, flag in zip(rules, active, strict=True)
        if rule.other_slot == slot and 0 < rule.other_lanes < full
    ]
    if not narrowing:
        return
    for (_, berth), one in draft.placed.items():
        if berth.slot.name != slot:
            continue
        for rule, flag in narrowing:
            if rule.other_lanes < berth.lanes:
                draft.program.require("lanes_left", one.copy().plus(flag), "<=", 1.0)
        if berth.lanes < full:
            causes = total(
                (flag, -1.0)
                for rule, flag in narrowing
                if rule.other_lanes == berth.lanes
            )
            draft.program.require("lanes_left", one.copy().plus(causes), "<=", 0.0)


def _limits_of_cards(draft: Draft) -> None:
    for item in draft.everything():
        n_places = sum(key == item.key for key, _ in draft.placed)
        if item.limit is not None and (n_places or item.key in draft.on_riser):
            count = draft.count(item)
            draft.program.require("item_limit", count, "<=", float(item.limit))


def modules_on_risers(draft: Draft) -> None:
    """Place the cache's modules in sockets of the board or on risers."""
    require = draft.program.require
    for item in draft.of(SolidStateDrive):
        if module_mode(item.part):
            n = sum(other.key == item.key for other in draft.entry.cache)
            if n:
                require("cache_placed", draft.count(item), "=", float(n))
    risers = [
        (item, berth, one)
        for item in draft.of(Riser)
        for (key, berth), one in draft.placed.items()
        if key == item.key
    ]
    for item, berth, one in risers:
        draft.riser_room[item.key, berth] = _riser_room(draft, item, berth, one)
    by_key = {item.key: item for item in draft.everything()}
    for key, count in draft.on_riser.items():
        room = total(
            (draft.riser_room[item.key, berth], 1.0)
            for item, berth, _ in risers
            if isinstance(item.part, Riser)
            and module_fits_riser(by_key[key].part, item.part)
            and carries_ingest(draft.entry, berth, item.part.socket_lanes)
        )
        require("riser_sockets", count.copy().plus(room, -1.0), "<=", 0.0)
    everywhere = total((room, 1.0) for room in draft.riser_room.values())
    taken = total((count, 1.0) for count in draft.on_riser.values())
    require("riser_sockets", taken.plus(everywhere, -1.0), "<=", 0.0)


def _riser_room(draft: Draft, item: Item, berth: Berth, one: Expression) -> Expression:
    """Return the modules that a riser shows: more than one may need a processor."""
    part, n = item.part, riser_sockets(item, berth)
    needs_split = isinstance(part, Riser) and not part.has_switch and n > 1
    if not needs_split or draft.board_part.has_soldered_processor:
        return total([(one, float(n))])
    splitters = chosen(draft, Processor, lambda p: p.can_bifurcate)  # type: ignore[attr-defined]
    split = draft.program.variable(f"split {item.key} {berth.name}", 1.0)
    draft.program.require("slot_split", split.copy().plus(one, -1.0), "<=", 0.0)
    draft.program.require("slot_split", split.copy().plus(splitters, -1.0), "<=", 0.0)
    return total([(one, 1.0), (split, float(n - 1))])


def processor_lanes(draft: Draft) -> None:
    """Keep the lanes of used processor slots within those of the processor."""
    board = draft.board_part
    used = total(
        (one, float(berth.lanes))
        for (_, berth), one in draft.placed.items()
        if berth.slot.uplink == "cpu"
    )
    if board.has_soldered_processor:
        draft.program.require("processor_lanes", used, "<=", float(board.cpu_lanes))
        return
    have = total(
        (draft.loose[p.key], float(p.part.cpu_lanes))  # type: ignore[attr-defined]
        for p in draft.of(Processor)
    )
    draft.program.require("processor_lanes", used.plus(have, -1.0), "<=", 0.0)


def display_there(draft: Draft) -> None:
    """Require something that shows the firmware, and management where asked."""
    board, require = draft.board_part, draft.program.require
    cards = _placed(draft, DisplayCard, lambda _: True)
    if not board.has_management and not (
        board.has_soldered_processor and board.has_graphics
    ):
        shown = cards.copy().plus(
            chosen(draft, Processor, lambda p: p.has_graphics)  # type: ignore[attr-defined]
        )
        require("display_there", shown, ">=", 1.0)
    if draft.entry.scenario.needs.management and not board.has_management:
        managed = _placed(draft, DisplayCard, lambda c: c.is_management)  # type: ignore[attr-defined]
        require("management_there", managed, ">=", 1.0)


def _placed(
    draft: Draft, record: type[Part], accept: Callable[[Part], bool]
) -> Expression:
    keys = {item.key for item in draft.of(record) if accept(item.part)}
    return total((one, 1.0) for (key, _), one in draft.placed.items() if key in keys)


def network_reached(draft: Draft) -> None:
    """Require a port and a lead of the entry's network speed that suit each other."""
    entry, board = draft.entry, draft.board_part
    needs, speed = entry.scenario.needs, entry.network_gbit_s
    medium, least_mb_s = needs.other_end_medium, needs.fastest_mb_s

    def fast(part: Part) -> bool:
        return part.medium == medium and part.network_gbit_s >= speed  # type: ignore[attr-defined, no-any-return]

    ports = total(
        (one, 1.0)
        for (key, berth), one in draft.placed.items()
        if isinstance(draft.by_key[key].part, NetworkCard)
        and fast(draft.by_key[key].part)
        and network_fits(draft.by_key[key].part, berth, entry.scenario, least_mb_s)
    )
    own = board.network_gbit_s or 0.0
    if board.network_medium == medium and own >= speed:
        ports.plus(1.0)
    draft.program.require("network_port", ports, ">=", 1.0)
    draft.program.require("network_lead", chosen(draft, NetworkLead, fast), ">=", 1.0)


def insisted(draft: Draft) -> None:
    """Require what the scenario insists on."""
    for wanted in draft.entry.scenario.insist:
        found = total(
            (draft.count(item), 1.0)
            for item in draft.everything()
            if is_named(item, wanted)
        )
        draft.program.require("insisted", found, ">=", 1.0)


def is_named(item: Item, wanted: str) -> bool:
    """Return whether a scenario's name means an item."""
    owned = item.owned.id if item.owned else ""
    return wanted in (item.key, item.part.id, owned)
