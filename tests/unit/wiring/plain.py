"""Power trees by the most obvious means: every arrangement, sums written out.

Shares no code with the package but the records that say what gives and takes power.
"""

from itertools import combinations, permutations

PLUG_A = {"sata": 4.5, "peripheral": 8.0}


def above(feeds, name) -> list[str]:
    """Return what a thing hangs on, and that on, and so on up to a lead."""
    found = []
    while True:
        sources = [feed.source for feed in feeds if feed.load == name]
        if not sources or sources[0] in found:
            return found
        name = sources[0]
        found.append(name)


def amps_below(ends, feeds, node) -> tuple[float, float, float]:
    """Return 12 V at work, 12 V at a start and 5 V of all that hangs below a node.

    Every set of drives that may start at once is tried: of each host its group.
    """
    shares, draws = {}, {}
    for load in ends.loads:
        if node in (load.name, *above(feeds, load.name)):
            for draw in load.draws:
                shares[draw.name] = shares.get(draw.name, 0.0) + draw.share
                draws[draw.name] = draw
    run = sum(shares[n] * d.run_12v_a for n, d in draws.items())
    five = sum(shares[n] * d.run_5v_a for n, d in draws.items())
    start = run
    for host in {d.host for d in draws.values()}:
        names = [n for n, d in draws.items() if d.host == host]
        group = min(len(names), ends.groups.get(host, len(names)))
        start += max(
            sum(shares[n] * draws[n].rise_12v_a for n in chosen)
            for chosen in combinations(names, group)
        )
    return run, start, five


def is_sound(ends, feeds) -> bool:
    """Return whether a tree feeds every load and keeps every rule."""
    givers = {giver.name: giver for giver in (*ends.leads, *ends.pieces)}
    loads = {load.name: load for load in ends.loads}
    hung = [feed.load for feed in feeds]
    once = len({(f.source, f.plug) for f in feeds}) == len(feeds) == len(set(hung))
    return (
        once
        and set(loads) <= set(hung)
        and all(_edge_is_sound(ends, feeds, givers, loads, feed) for feed in feeds)
        and _leads_carry(ends, feeds)
        and all(_voltage_holds(ends, feeds, givers, name) for name in loads)
    )


def _edge_is_sound(ends, feeds, givers, loads, feed) -> bool:
    giver = givers[feed.source]
    taken = loads[feed.load].plug if feed.load in loads else givers[feed.load].takes
    limit = PLUG_A[giver.gives]
    if feed.load in givers:
        limit = min(limit, givers[feed.load].most_a)
    _, start, five = amps_below(ends, feeds, feed.load)
    return (
        giver.gives == taken
        and 1 <= feed.plug <= giver.n_plugs
        and max(start, five) <= limit + 1e-6
        and _way_is_sound(feeds, givers, loads, feed.load)
    )


def _leads_carry(ends, feeds) -> bool:
    return all(
        max(amps_below(ends, feeds, lead.name)[1:]) <= lead.most_a + 1e-6
        for lead in ends.leads
    )


def _way_is_sound(feeds, givers, loads, name) -> bool:
    way = above(feeds, name)
    if not way or givers[way[-1]].takes is not None or len(way) > 3:
        return False
    four_pin = any(givers[n].gives == "peripheral" for n in way)
    if name in givers and givers[name].is_moulded == "yes" and four_pin:
        return False
    has_3v3 = not four_pin and all(givers[n].has_3v3 for n in way)
    return not (name in loads and loads[name].held and has_3v3)


def _voltage_holds(ends, feeds, givers, name) -> bool:
    lost = [0.0, 0.0]
    for node in above(feeds, name):
        _, start, five = amps_below(ends, feeds, node)
        lost[0] += start * givers[node].ohm
        lost[1] += five * givers[node].ohm
    return lost[0] <= 0.05 * 12 + 1e-6 and lost[1] <= 0.05 * 5 + 1e-6


def every_tree(ends, feed):
    """Yield every way to hang adapters (some, or none) and all loads."""
    for n in range(len(ends.pieces) + 1):
        for used in combinations(ends.pieces, n):
            yield from _hung(list(ends.leads), list(used), [], ends, feed)


def _hung(givers, left, feeds, ends, feed):
    taken = {(f.source, f.plug) for f in feeds}
    plugs = [
        (g.name, n)
        for g in givers
        for n in range(1, g.n_plugs + 1)
        if (g.name, n) not in taken
    ]
    if not left:
        for chosen in permutations(plugs, len(ends.loads)):
            yield [
                *feeds,
                *(
                    feed(load=load.name, source=source, plug=number)
                    for load, (source, number) in zip(ends.loads, chosen, strict=True)
                ),
            ]
        return
    for piece in left:
        rest = [other for other in left if other is not piece]
        for source, number in plugs:
            hung = feed(load=piece.name, source=source, plug=number, key=piece.key)
            yield from _hung([*givers, piece], rest, [*feeds, hung], ends, feed)
