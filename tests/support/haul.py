"""A move of data done by hand, as the README tells it, on numbered bytes.

It knows a build's roles, what a scenario says of the drives, and the steps as ``optibox
migrate --format json`` gives them. Every byte of an old drive has a number, and each
place holds intervals of such numbers, so that a byte that is copied twice counts once.
Nothing of the package that makes the steps is used.
"""

from dataclasses import dataclass, field

GONE = "elsewhere"
FILES = 1 - 0.02
"""Share of a drive that a file system leaves for files, as the scenario has it."""


class LossError(AssertionError):
    """A step that loses something, cannot be done, or claims what is not so."""


@dataclass
class Spans:
    """A set of bytes, as intervals that do not touch."""

    runs: list[tuple[int, int]] = field(default_factory=list)

    def size(self) -> int:
        return sum(end - start for start, end in self.runs)

    def add(self, other: "Spans") -> None:
        merged: list[tuple[int, int]] = []
        for start, end in sorted(self.runs + other.runs):
            if merged and start <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
            else:
                merged.append((start, end))
        self.runs = merged

    def without(self, other: "Spans") -> "Spans":
        left = []
        for start, end in self.runs:
            at = start
            for low, high in other.runs:
                if high > at and low < end:
                    if low > at:
                        left.append((at, low))
                    at = max(at, high)
            if at < end:
                left.append((at, end))
        return Spans(left)

    def first(self, amount: int) -> "Spans":
        taken = []
        for start, end in self.runs:
            if amount <= 0:
                break
            taken.append((start, min(end, start + amount)))
            amount -= taken[-1][1] - start
        return Spans(taken)


@dataclass
class Place:
    """What lies somewhere: bytes of each old drive, and those that were read back."""

    there: dict[str, Spans] = field(default_factory=dict)
    sure: dict[str, Spans] = field(default_factory=dict)

    def of(self, owner: str) -> Spans:
        return self.there.setdefault(owner, Spans())

    def size(self) -> int:
        return sum(spans.size() for spans in self.there.values())


@dataclass
class Drive:
    """One drive, as scenario and build describe it."""

    name: str
    role: str
    bytes: int
    held: int = 0
    copy_elsewhere: bool = False
    comes_back: bool = True
    array: str = ""
    failing: bool = False
    bought: bool = False
    remote: bool = False
    here: bool = False
    small: bool = False
    in_slot: bool = False

    @property
    def room(self) -> int:
        return int(self.bytes * FILES)


class Haul:
    """The state of all drives between two steps."""

    def __init__(self, drives, layout, n_parity, bays_35, bays_25, ports):
        self.drives = {drive.name: drive for drive in drives}
        self.layout, self.n_parity = layout, n_parity
        self.limits = (bays_35, bays_25, ports)
        self.old = {
            d.name: Spans([(0, d.held)] if d.held else []) for d in self.drives.values()
        }
        self.new: dict[str, Place] = {}
        self.inside = {d.name for d in drives if d.here}
        self.array, self.ready = set(), set()
        self.serving, self.passed, self.relied = set(), set(), set()
        self.copied = 0

    # what stands where

    def built(self):
        return [d for d in self.drives.values() if d.role != "beside"]

    def fellows(self, name):
        """Return the drives that are read together with one."""
        array = self.drives[name].array
        return [
            d.name
            for d in self.drives.values()
            if d.name == name or (array and d.array == array)
        ]

    def members(self, place):
        """Return the drives of a file system of the array, by its name."""
        data = [d.name for d in self.built() if d.role == "data"]
        if place in data and self.layout == "independent":
            return [[place]]
        if place == "the stripe":
            return [[name] for name in data]
        if place.startswith("pair "):
            return [place.removeprefix("pair ").split(" and ")]
        return None

    def size_of(self, place):
        groups = self.members(place)
        rooms = [[self.drives[n].room for n in group] for group in groups]
        if self.layout == "striped":
            lowest = min(self.drives[n].bytes for group in groups for n in group)
            return int(lowest * (len(groups) - self.n_parity) * FILES)
        return sum(min(group) for group in rooms)

    def is_open(self, place):
        groups = self.members(place)
        return groups is not None and all(self.array & set(group) for group in groups)

    def is_doubled(self, place):
        """Return whether a file system survives any one drive."""
        if self.layout == "independent":
            parity = {d.name for d in self.built() if d.role == "parity"}
            return bool(parity & self.ready)
        names = {name for group in self.members(place) for name in group}
        return names <= self.ready and (self.layout == "pairs" or self.n_parity > 0)

    def lost(self, name):
        """Return the bytes of an old drive that would be nowhere, sure and whole."""
        drive = self.drives[name]
        left = Spans([(0, drive.held)] if drive.held else [])
        if self.old[name].runs or (drive.copy_elsewhere and drive.held):
            return Spans()
        for place in self.new.values():
            left = left.without(place.sure.get(name, Spans()))
        return left

    def need(self, holds, what):
        if not holds:
            raise LossError(what)

    # the steps

    def do(self, step):
        kind = step["kind"].replace(" ", "_")
        getattr(self, f"do_{kind}")(step)
        for name, drive in self.drives.items():
            self.need(
                not self.lost(name).runs, f"{name} loses files at {step['number']}"
            )
            self.need(
                not drive.failing or name not in self.new or not self.new[name].size(),
                f"{name} has pending sectors and is relied on",
            )
        self.see_places(step)
        self.see_claims(step)

    def see_places(self, step):
        inside = [self.drives[n] for n in self.inside]
        inside = [d for d in inside if not d.in_slot]
        small = sum(d.small for d in inside)
        taken = (len(inside) - small, small, len(inside))
        free = tuple(a - b for a, b in zip(self.limits, taken, strict=True))
        self.need(min(free) >= 0, f"no place for a drive at {step['number']}")
        said = (step["bays_35_free"], step["bays_25_free"], step["ports_free"])
        is_so = all(a <= b for a, b in zip(said, free, strict=True))
        self.need(is_so, f"free places {said}, counted {free}")

    def see_claims(self, step):
        """See that redundancy is claimed where it is, and one place is named."""
        survives = step["failures_survived"]
        if self.layout == "independent":
            parity = {d.name for d in self.built() if d.role == "parity"}
            self.need(
                survives <= len(parity & self.ready), "redundancy that is not built"
            )
        elif survives:
            places = [p for p in self.new if self.members(p) is not None]
            self.need(all(map(self.is_doubled, places)), "redundancy that is not built")
        named = set(step["in_one_place_only"])
        for name, drive in self.drives.items():
            if not drive.held or self.old[name].runs or name not in self.sources():
                continue
            left = Spans([(0, drive.held)])
            for place, content in self.new.items():
                if self.members(place) is not None and (
                    drive.copy_elsewhere or self.is_doubled(place)
                ):
                    left = left.without(content.sure.get(name, Spans()))
            if left.runs:
                known = {name, drive.array}
                self.need(named & known, f"{name} is in one place, and nobody says so")

    def sources(self):
        used = {d.array for d in self.built() if d.array}
        return {
            d.name
            for d in self.drives.values()
            if d.role != "beside" or (d.array and d.array in used)
        }

    def do_take_out(self, step):
        for name in step["drives"]:
            self.need(name in self.inside, f"{name} is not there")
            self.need(name not in self.array | self.serving, f"{name} is in use")
            self.inside.discard(name)

    def do_return(self, step):
        self.serving -= set(step["drives"])
        for name in step["drives"]:
            self.new.pop(name, None)
            self.inside.discard(name)

    def do_seat(self, step):
        self.need(set(step["drives"]) <= self.inside, "a drive is not there")

    def do_fit(self, step):
        self.need(self.inside.isdisjoint(step["drives"]), "a drive is there already")
        self.inside |= set(step["drives"])

    def do_test(self, step):
        self.need(set(step["drives"]) <= self.inside, "a drive is not there")
        for name in step["drives"]:
            self.need(not self.old[name].runs, f"{name} is wiped by its test")
        self.passed |= set(step["drives"])

    def do_read_back(self, step):
        for name in step["drives"]:
            self.need(self.drives[name].copy_elsewhere, f"{name} has no second copy")
        self.relied |= set(step["drives"])

    def join(self, names):
        for name in names:
            self.need(name in self.inside, f"{name} is not in the machine")
            self.need(not self.old[name].runs, f"{name} still holds files")
            self.need(
                not (name in self.new and self.new[name].size()), f"{name} serves"
            )
            bought = self.drives[name].bought
            self.need(not bought or name in self.passed, f"{name} was never tested")

    def do_create(self, step):
        self.join(step["drives"])
        self.array |= set(step["drives"])

    do_add = do_create

    def do_build(self, step):
        self.need(set(step["drives"]) <= self.array, "a drive is no part of the array")
        self.ready |= set(step["drives"])

    def do_check(self, _step):
        self.need(
            {d.name for d in self.built()} <= self.array, "the array is not whole"
        )

    def do_lend(self, step):
        for name in step["drives"]:
            drive = self.drives[name]
            self.need(drive.remote or name in self.inside, f"{name} is out of reach")
            self.need(not self.old[name].runs, f"{name} still holds files")
            self.need(not drive.failing, f"{name} has pending sectors")
            others = [self.drives[n] for n in self.fellows(name) if n != name]
            in_use = any(self.old[d.name].runs for d in others)
            self.need(not in_use, f"{name} is what an old array survives with")
            self.need(
                not drive.bought or name in self.passed, f"{name} was never tested"
            )
        self.serving |= set(step["drives"])

    def do_copy(self, step):
        for move in step["copies"]:
            self.carry(move["from"], move["to"], move["amount_b"], move["files_of"])

    do_restore = do_copy

    def carry(self, start, where, amount, owner):
        is_lent = where in self.serving
        self.need(is_lent or self.is_open(where), f"{where} takes no files")
        target = self.new.setdefault(where, Place())
        self.copied += amount
        names = self.names_of(owner)
        settled = [p for w, p in self.new.items() if self.members(w) is not None]
        names = [n for n in names if self.drives[n].held]
        for name in names if start not in names else [start]:
            if start == name:
                self.need(bool(self.old[name].runs), f"{name} is gone")
                drive = self.drives[name]
                self.need(
                    drive.remote or name in self.inside, f"{name} is out of reach"
                )
                for fellow in self.fellows(name):
                    gone = self.drives[fellow].held and not self.old[fellow].runs
                    self.need(not gone, f"{name} is read from half an array")
                pool, others = self.old[name], list(self.new.values())
            elif start == GONE:
                self.need(
                    self.drives[name].copy_elsewhere, f"{name} has no second copy"
                )
                pool = Spans([(0, self.drives[name].held)])
                others = list(self.new.values())
            else:
                pool, others = self.new[start].sure.get(name, Spans()), settled
            for other in others:
                pool = pool.without(other.there.get(name, Spans()))
            taken = pool.first(amount)
            target.of(name).add(taken)
            amount -= taken.size()
        self.need(amount == 0, f"{amount} bytes of {owner} are not at {start}")
        room = self.drives[where].room if is_lent else self.size_of(where)
        self.need(target.size() <= room, f"{where} is overfull")

    def names_of(self, owner):
        if owner in self.drives:
            return [owner]
        return [d.name for d in self.drives.values() if d.array == owner]

    def do_verify(self, step):
        for place in {move["to"] for move in step["copies"]}:
            self.need(place in self.new, f"nothing was copied to {place}")
            content = self.new[place]
            for name, spans in content.there.items():
                content.sure.setdefault(name, Spans()).add(spans)

    def do_erase(self, step):
        names = set(step["drives"])
        self.need(names <= self.inside, "a drive is not in the machine")
        self.need(self.array.isdisjoint(names), "a drive is part of the array")
        told = {(row["drive"], row["files_of"]) for row in step["destroys"]}
        for name in names:
            if self.old[name].runs:
                self.need(
                    any(drive == name for drive, _ in told), f"{name} is not named"
                )
            if self.drives[name].copy_elsewhere and self.old[name].runs:
                sure = Spans()
                for place in self.new.values():
                    sure.add(place.sure.get(name, Spans()))
                is_known = name in self.relied or sure.size() == self.drives[name].held
                self.need(is_known, f"the second copy of {name} was not read back")
            self.old[name] = Spans()
            self.new.pop(name, None)
            self.serving.discard(name)

    def end(self):
        """See that all is on the array, read back, and every drive part of it."""
        self.need({d.name for d in self.built()} <= self.array, "a drive never joins")
        for name in self.sources():
            drive = self.drives[name]
            if drive.copy_elsewhere and not drive.comes_back:
                continue
            left = Spans([(0, drive.held)] if drive.held else [])
            for place, content in self.new.items():
                if self.members(place) is not None:
                    left = left.without(content.sure.get(name, Spans()))
            self.need(
                not left.runs, f"{left.size()} bytes of {name} are not on the array"
            )


def follow(haul, steps):
    """Do all steps; fail at the first that is wrong."""
    for step in steps:
        haul.do(step)
    haul.end()
