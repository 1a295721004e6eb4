"""A second, plain ledger in Python, kept beside the real one: what ought to be true of every lot.

It shares no code with the product. It is told what happened, with the lots and amounts that the
product answered, does its own sums, and refuses (`AssertionError`) what must never be.
Times are minutes after noon; amounts are base units.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace


@dataclass
class Stop:
    """A time in which a lot must not be used; `until` is None while it lasts.

    Attributes:
        hold: The hold's number, where it is one.
    """

    kind: str
    since: int
    until: int | None = None
    hold: int = 0

    def covers(self, at: int) -> bool:
        """Whether it stops a use at that time."""
        return self.since <= at and (self.until is None or at < self.until)


@dataclass
class ShadowLot:
    """What ought to be true of a lot.

    Attributes:
        moves: Minute, number of the event, amount; those of undone events are gone.
        lives: Until when it may be used, by when somebody said so; None: it keeps.
        opened: When, and until when it may be used then.
        counted: The latest minute somebody counted it.
        counted_after: How much had happened when somebody counted it last.
        changed: The latest minute at which its disposition changed.
        came_in: All that ever came in, and what that was worth.
    """

    code: str
    item: str
    born: int
    qty: int = 0
    value: int = 0
    moves: list[tuple[int, int, int]] = field(default_factory=list)
    stops: list[Stop] = field(default_factory=list)
    lives: list[tuple[int, int | None]] = field(default_factory=list)
    opened: tuple[int, int | None] | None = None
    is_bought: bool = False
    is_rejected: bool = False
    counted: int = -(10**9)
    counted_after: int = 0
    changed: int = -(10**9)
    came_in: tuple[int, int] = (0, 0)
    holds: set[int] = field(default_factory=set)

    def stopped(self, kind: str, at: int, *, hold: int = 0) -> None:
        """Stop it; a hold dated back stops it from its last change on."""
        since = max(at, self.changed)
        is_change = not (self.holds or self.is_rejected)
        self.stops.append(Stop(kind, since, hold=hold))
        if is_change:
            self.changed = since

    def change(self, qty: int, value: int) -> None:
        """Bring amount and value along."""
        self.qty += qty
        self.value += value
        if qty > 0:
            self.came_in = (self.came_in[0] + qty, self.came_in[1] + value)

    def why_not(self, at: int, *, held_allowed: bool = False) -> str:
        """Why it must not be used at that time; empty: it may."""
        stops = {stop.kind for stop in self.stops if stop.covers(at)}
        stops -= {"hold"} if held_allowed else set()
        if stops:
            return ", ".join(sorted(stops))
        ends = [until for said, until in self.lives if said <= at][-1:]
        if self.opened is not None and self.opened[0] <= at:
            ends.append(self.opened[1])
        if any(end is not None and end < at for end in ends):
            return "too old"
        return "" if self.born <= at else "not there yet"

    @property
    def disposition(self) -> str:
        """What it is now."""
        if self.is_rejected:
            return "rejected"
        if self.holds:
            return "held"
        waits = any(stop.kind == "quarantine" and stop.until is None for stop in self.stops)
        return "quarantined" if waits else "released"


@dataclass
class Happening:
    """One event: amount and value of each lot, negative out."""

    number: int
    at: int
    changes: dict[str, tuple[int, int]]
    flows: bool
    is_undone: bool = False

    def side(self, sign: int) -> list[str]:
        """The lots it took (-1) or made (1)."""
        return [code for code, (qty, _) in self.changes.items() if qty * sign > 0]


class Shadow:
    """All lots, all that happened, and the holds that are open."""

    def __init__(self) -> None:
        self.lots: dict[str, ShadowLot] = {}
        self.happenings: list[Happening] = []
        self.holds: dict[int, tuple[str, int]] = {}  # cause and minute, by the product's number
        self.outside = 0
        self.closed_before = -(10**9)

    def happened(
        self, at: int, changes: Mapping[str, tuple[int, int]], *, flows: bool = False, outside: int
    ) -> Happening:
        """Note an event; lots that it makes were entered first.

        Args:
            at: When.
            changes: Amount and value of each lot, negative out.
            flows: Whether what it takes becomes what it makes.
            outside: Value that comes from outside, negative if it goes there.
        """
        event = Happening(len(self.happenings), at, dict(changes), flows)
        self.happenings.append(event)
        assert sum(value for _, value in changes.values()) == outside, "value appeared or vanished"
        assert at >= self.closed_before, "it went into closed books"
        self.outside += outside
        for code, (qty, value) in changes.items():
            lot = self.lots[code]
            assert at >= lot.counted, f"{code} was changed behind a count"
            assert at >= lot.born, f"{code} was changed before it was there"
            was_empty = lot.qty == 0 and lot.moves
            lot.change(qty, value)
            lot.moves.append((at, event.number, qty))
            if was_empty and qty > 0:
                self._join_holds(lot, at)
        return event

    def undone(self, event: Happening, at: int) -> None:
        """An event was reversed: it never happened."""
        assert not event.is_undone, "it was undone twice"
        assert at >= event.at, "it was undone before it happened"
        assert at >= self.closed_before, "it was undone in closed books"
        for code in event.changes:
            assert self.lots[code].counted_after <= event.number, f"{code} was counted since"
        for code in event.side(1):
            assert self.lots[code].qty == event.changes[code][0], f"{code} was used since"
        event.is_undone = True
        for code, (qty, value) in event.changes.items():
            lot = self.lots[code]
            was_empty = lot.qty == 0
            lot.change(-qty, -value)
            lot.moves = [move for move in lot.moves if move[1] != event.number]
            if was_empty and lot.qty > 0:
                self._join_holds(lot, at)
        self.outside -= sum(value for _, value in event.changes.values())

    def born_of(self, lot: ShadowLot, sources: Iterable[str]) -> None:
        """Enter a lot made of others: the open holds on them are on it too."""
        self.lots[lot.code] = lot
        holds = {hold for source in sources for hold in self.lots[source].holds}
        for hold in sorted(holds, key=lambda hold: self.holds[hold][1]):
            self._hold(lot, hold, self.holds[hold][1])

    def split_from(self, parent: ShadowLot, code: str, at: int) -> ShadowLot:
        """Enter a part of a lot: whatever is true of the one is true of the other."""
        part = ShadowLot(
            code=code,
            item=parent.item,
            born=at,
            stops=[replace(stop) for stop in parent.stops],
            lives=list(parent.lives),
            opened=parent.opened,
            is_bought=parent.is_bought,
            is_rejected=parent.is_rejected,
            changed=parent.changed,
            holds=set(parent.holds),
        )
        self.lots[code] = part
        return part

    def downstream(self, code: str) -> set[str]:
        """The lot and all it flowed into."""
        found, waiting = {code}, [code]
        while waiting:
            lot = waiting.pop()
            for event in self.happenings:
                if event.flows and not event.is_undone and lot in event.side(-1):
                    new = set(event.side(1)) - found
                    found |= new
                    waiting += new
        return found

    def held(self, cause: str, number: int, at: int) -> None:
        """A hold was placed on a lot and all it flowed into that is still ours."""
        self.holds[number] = (cause, at)
        for code in self.downstream(cause):
            if self.lots[code].qty > 0 or code == cause:
                self._hold(self.lots[code], number, at)

    def released(self, number: int, at: int) -> None:
        """A hold has ended."""
        assert at >= self.holds.pop(number)[1], "a hold ended before it began"
        for lot in self.lots.values():
            if number in lot.holds:
                lot.holds.discard(number)
                is_freed = not (lot.holds or lot.is_rejected)
                until = max(at, lot.changed) if is_freed else at
                lot.changed = until if is_freed else lot.changed
                for stop in lot.stops:
                    if stop.hold == number:
                        stop.until = until

    def _hold(self, lot: ShadowLot, number: int, at: int) -> None:
        if number not in lot.holds:
            lot.stopped("hold", at, hold=number)
            lot.holds.add(number)

    def _join_holds(self, lot: ShadowLot, at: int) -> None:
        for number, (cause, _) in self.holds.items():
            if lot.code in self.downstream(cause):
                self._hold(lot, number, at)

    def counted(self, code: str, at: int) -> None:
        """Somebody counted a lot; the difference has happened already."""
        lot = self.lots[code]
        lot.counted, lot.counted_after = at, len(self.happenings)

    def below_zero(self) -> Iterator[str]:
        """Lots that held less than nothing at some time."""
        for lot in self.lots.values():
            balance = 0
            for _, _, qty in sorted(lot.moves):
                balance += qty
                if balance < 0:
                    yield lot.code
                    break


def share_of(value: int, part: int, whole: int) -> int:
    """What a part of a lot is worth: rounded down, and the last piece takes what is left."""
    return value if part == whole else value * part // whole


def shares(value: int, weights: list[int]) -> list[int]:
    """A value shared by weights: each rounded down, the last takes what is left."""
    parts = [value * weight // sum(weights) for weight in weights[:-1]]
    return [*parts, value - sum(parts)]
