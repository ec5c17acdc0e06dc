"""Does the programme hold: the chance that each slot runs as entered, with a standby, or not.

Vehicles share people, parts and places, so their fates hang together. Everything here is counted over
joint samples; chances of single vehicles are never multiplied, except where they are known to be
independent (``at_least``).
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Run = tuple[str, str]  # (slot, vehicle)


def at_least(k: int, probabilities: Iterable[float]) -> float:
    """The chance that at least ``k`` of independent things hold, each with its own chance (Poisson-binomial).

    By recursion on the exact distribution of the count; no approximation.

    Args:
        k: how many are needed; 0 or fewer is certain, more than there are is impossible.
        probabilities: the chance of each.

    Raises:
        ValueError: a chance lies outside 0 to 1.
    """
    counts = np.array([1.0])
    for chance in probabilities:
        if not 0.0 <= chance <= 1.0:
            raise ValueError("A chance must lie between 0 and 1.")
        counts = np.append(counts * (1.0 - chance), 0.0) + np.append(0.0, counts * chance)
    if k <= 0:
        return 1.0
    return min(1.0, math.fsum(counts[k:]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One slot of the programme.

    Attributes:
        key: its stable key.
        start: when the vehicles are bound to it; touching slots do not clash.
        end: when they are free again.
        entries: vehicles entered.
        standbys: vehicles that may cover, in the order in which they are asked. A standby without a current
            driver is no standby and must be left out.
        needed: how many vehicles make the slot run ("one bus will do"); None is all that are entered.
        weight: worth of the slot when advice is ranked.
    """

    key: str
    start: datetime
    end: datetime
    entries: tuple[str, ...]
    standbys: tuple[str, ...] = ()
    needed: int | None = None
    weight: float = 1.0

    def __post_init__(self) -> None:
        if not self.start < self.end:
            raise ValueError(f"Slot {self.key} must end after it starts.")
        vehicles = self.entries + self.standbys
        if len(set(vehicles)) != len(vehicles):
            raise ValueError(f"A vehicle stands twice in slot {self.key}.")
        if self.needed is not None and not 0 < self.needed <= len(self.entries):
            raise ValueError(f"Slot {self.key} cannot need {self.needed} of {len(self.entries)} entered.")

    @property
    def wanted(self) -> int:
        """Vehicles that make the slot run."""
        return len(self.entries) if self.needed is None else self.needed

    def clashes(self, other: Slot) -> bool:
        """Whether one vehicle cannot be in both."""
        return self.start < other.end and other.start < self.end


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotCover:
    """What becomes of one slot. The three chances add to one.

    Attributes:
        key: the slot.
        as_entered: chance that enough of the entered vehicles run.
        with_standby: chance that it runs only because a standby covers.
        not_run: chance that it does not run.
        error: standard error of the chance that it runs.
        standby_share: for each standby, the chance that it is called out.
    """

    key: str
    as_entered: float
    with_standby: float
    not_run: float
    error: float
    standby_share: Mapping[str, float]

    @property
    def runs(self) -> float:
        """Chance that the slot runs at all."""
        return self.as_entered + self.with_standby


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """The programme's cover.

    Attributes:
        slots: in order of start.
        all_run: chance that every slot runs.
        expected: mean weight of the slots that run.
        samples: how many samples were counted.
    """

    slots: tuple[SlotCover, ...]
    all_run: float
    expected: float
    samples: int


def uniforms(seed: int, run: Run, samples: int) -> Floats:
    """The stream of one vehicle in one slot, keyed by seed, slot and vehicle and by nothing else.

    A programme with one slot more therefore reuses the same draws in all the others.
    """
    text = "\x1f".join((str(seed), run[0], run[1], "running hours"))
    key = int.from_bytes(hashlib.blake2b(text.encode(), digest_size=16).digest(), "big")
    return np.random.Generator(np.random.SFC64(key)).random(samples)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Samples:
    """Everything drawn, looked up by (slot, vehicle)."""

    clear: Mapping[Run, Bools]
    survive: Mapping[Run, float]
    seed: int
    size: int

    def clear_of(self, run: Run) -> Bools:
        if run not in self.clear:
            raise ValueError(f"No samples for vehicle {run[1]} in slot {run[0]}.")
        found = np.asarray(self.clear[run], dtype=np.bool_)
        if found.shape != (self.size,):
            raise ValueError("Every vehicle and slot needs the same number of samples.")
        return found

    def lasts(self, run: Run) -> Bools:
        chance = self.survive.get(run, 1.0)
        if not 0.0 <= chance <= 1.0:
            raise ValueError("A chance must lie between 0 and 1.")
        return uniforms(self.seed, run, self.size) < chance


def _simulate(slots: Sequence[Slot], samples: _Samples) -> list[tuple[Slot, Bools, Bools, dict[str, Bools]]]:
    """For each slot in order: ran as entered, ran at all, and where each standby was called out."""
    ordered = sorted(slots, key=lambda slot: (slot.start, -slot.weight, slot.key))
    fallen: dict[str, Bools] = {}  # broke down in an earlier slot: out for the rest
    covering: list[tuple[Slot, str, Bools]] = []
    entered = [(slot, vehicle) for slot in ordered for vehicle in slot.entries]
    nothing = np.zeros(samples.size, dtype=np.bool_)
    outcome = []

    def free(slot: Slot, vehicle: str) -> Bools:
        """Where the vehicle is clear for the slot and has not broken down in an earlier one."""
        return samples.clear_of((slot.key, vehicle)) & ~fallen.get(vehicle, nothing)

    def send(slot: Slot, vehicle: str, out: Bools) -> Bools:
        """Sends the vehicle out in those samples and returns where it lasts."""
        lasts = samples.lasts((slot.key, vehicle))
        fallen[vehicle] = fallen.get(vehicle, nothing) | (out & ~lasts)
        return out & lasts

    for slot in ordered:
        running = np.zeros(samples.size, dtype=np.int64)
        called: dict[str, Bools] = {}
        for vehicle in slot.entries:
            running += send(slot, vehicle, free(slot, vehicle))
        as_entered = running >= slot.wanted
        for vehicle in slot.standbys:
            called[vehicle] = nothing
            # Its own entry comes first, and it covers one slot at a time.
            if any(name == vehicle and other.clashes(slot) for other, name in entered):
                continue
            out = (running < slot.wanted) & free(slot, vehicle)
            for other, name, where in covering:
                if name == vehicle and other.clashes(slot):
                    out &= ~where
            running += send(slot, vehicle, out)
            called[vehicle] = out
            covering.append((slot, vehicle, out))
        outcome.append((slot, as_entered, running >= slot.wanted, called))
    return outcome


def _sampled(clear: Mapping[Run, Bools], survive: Mapping[Run, float] | None, seed: int) -> _Samples:
    sizes = {len(found) for found in clear.values()}
    if len(sizes) != 1 or 0 in sizes:
        raise ValueError("Every vehicle and slot needs the same number of samples, and at least one.")
    return _Samples(clear=clear, survive=survive or {}, seed=seed, size=sizes.pop())


def cover(
    slots: Sequence[Slot],
    clear_samples: Mapping[Run, Bools],
    *,
    survive: Mapping[Run, float] | None = None,
    seed: int = 0,
) -> Cover:
    """Counts over the joint samples what becomes of each slot.

    In each sample the slots are walked in order of start. An entered vehicle runs when it is clear for that
    slot, has not broken down before and lasts its running hours. While too few run, the standbys are asked
    in their order; one covers one slot at a time, is gated like the vehicle that it covers and may break
    down too. What broke down is out for the later slots. The order in which standbys are asked is the
    museum's; no better assignment is looked for.

    Args:
        slots: the programme. The keys must differ.
        clear_samples: for each (slot, vehicle), entered or standby, a row of booleans: sample by sample,
            is the vehicle clear for that slot? All rows come from the same joint samples.
        survive: for each (slot, vehicle) the chance to last the running hours; 1 where it is not given.
        seed: base seed of the draws for lasting.

    Returns:
        The cover of every slot and of the whole.

    Raises:
        ValueError: samples are missing or differ in length, two slots share a key, or a chance is none.
    """
    if len({slot.key for slot in slots}) != len(slots):
        raise ValueError("Two slots share a key.")
    samples = _sampled(clear_samples, survive, seed)
    outcome = _simulate(slots, samples)
    size = samples.size
    found, everything, expected = [], np.ones(size, dtype=np.bool_), 0.0
    for slot, as_entered, ran, called in outcome:
        runs = float(ran.mean())
        everything &= ran
        expected += slot.weight * runs
        found.append(
            SlotCover(
                key=slot.key,
                as_entered=float(as_entered.mean()),
                with_standby=float((ran & ~as_entered).mean()),
                not_run=float((~ran).mean()),
                error=math.sqrt(runs * (1.0 - runs) / size),
                standby_share={vehicle: float(where.mean()) for vehicle, where in called.items()},
            )
        )
    return Cover(slots=tuple(found), all_run=float(everything.mean()), expected=expected, samples=size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A vehicle that could be made a standby.

    Attributes:
        vehicle: its key.
        slots: the slots that it could cover.
        clear: its samples for those slots, on the same joint samples, as it would be once prepared.
        by: when it must be prepared, in words for the reader; not used in the count.
    """

    vehicle: str
    slots: tuple[str, ...]
    clear: Mapping[str, Bools]
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What one more standby adds.

    Attributes:
        vehicle: the candidate.
        by: when it must be prepared.
        gain: added mean weight of slots that run, on the same draws.
        per_slot: added chance that each slot runs; only slots whose chance changes.
    """

    vehicle: str
    by: str
    gain: float
    per_slot: Mapping[str, float]


def advise(
    slots: Sequence[Slot],
    clear_samples: Mapping[Run, Bools],
    candidates: Sequence[Candidate],
    *,
    survive: Mapping[Run, float] | None = None,
    seed: int = 0,
) -> tuple[Advice, ...]:
    """Which further standby adds most, best first; each is tried alone, asked after those already named.

    Args:
        slots: the programme as it stands.
        clear_samples: as for ``cover``.
        candidates: vehicles that could be prepared.
        survive: as for ``cover``, candidates included.
        seed: as for ``cover``.

    Returns:
        One advice for each candidate, by gain and then by name.
    """
    now = cover(slots, clear_samples, survive=survive, seed=seed)
    before = {slot.key: slot.runs for slot in now.slots}
    found = []
    for one in candidates:
        wider = [
            replace(slot, standbys=(*slot.standbys, one.vehicle))
            if slot.key in one.slots and one.vehicle not in slot.entries + slot.standbys
            else slot
            for slot in slots
        ]
        more = {(key, one.vehicle): one.clear[key] for key in one.slots}
        # A vehicle already in the programme keeps the samples that it has there.
        then = cover(wider, {**more, **clear_samples}, survive=survive, seed=seed)
        gains = {slot.key: slot.runs - before[slot.key] for slot in then.slots}
        found.append(
            Advice(
                vehicle=one.vehicle,
                by=one.by,
                gain=then.expected - now.expected,
                per_slot={key: gain for key, gain in gains.items() if gain != 0},
            )
        )
    return tuple(sorted(found, key=lambda advice: (-advice.gain, advice.vehicle)))
