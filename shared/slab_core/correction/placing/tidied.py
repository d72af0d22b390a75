"""Specks: places so small or thin that nobody works them, left over where heights were mended.

What the floor passes without is dropped. What the rules need is made as large and as deep as a tool works:
beside it the nodes are taken that stand proudest, or lie lowest, as they can best spare it.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from slab_core.correction.connected import beside, parts_of
from slab_core.correction.evaluate import to_mm
from slab_core.correction.nodes import Nodes
from slab_core.correction.placing.ceilings import skim_mm
from slab_core.correction.placing.depths import most_passes, up_to_passes
from slab_core.correction.placing.mended import Mender, Seen
from slab_core.correction.placing.placed import Placed, place
from slab_core.correction.placing.spots import steps, trowelled_parts
from slab_core.correction.placing.trowel import is_small
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.grid import STEP_MM, Floats, Ints, Mask

BROKEN_MM = 0.018
"""Drawn in storage steps a floor may depart by nearly two of them more than is planned."""

MOST_GROWN, MOST_LOOKS = 4, 9
"""So often is a speck made larger, each time elsewhere, before it is left as it is; and so often is it looked
whether the rules are kept."""

HAIR_MM = 0.1

DROPPED = -1

JOINED_MM = 0.2
"""A speck beside a pour that lacks no more of its least lift is poured with it."""

LEAST_MM = np.ceil(SKIN_MM / STEP_MM - 1e-9) * STEP_MM
"""The least depth of a place, in whole storage steps."""

RIM_MM = LEAST_MM / 2
"""What is filled beside a speck runs out so thin."""


def tidied(placed: Placed, *, task: Task, mender: Mender) -> Placed | None:
    """The way without specks, as far as the rules allow it, not yet checked; None if it has none, if they
    cannot be got rid of so, or for a whole field on one surface."""
    change = to_mm(placed.fill - placed.grind)
    tidier = _Tidier(mender=mender, nodes=task.case.nodes, poured=placed.poured)
    specks = tidier.specks(change)
    if placed.whole_field or not specks:
        return None
    tried = tidier.without(specks, change_mm=change)
    if tried is None:
        return None
    return _with(placed, task=task, change_mm=tried, joined=tidier.joined(tried, specks=specks))


def _with(placed: Placed, *, task: Task, change_mm: Floats, joined: list[tuple[Ints, int]]) -> Placed | None:
    """The way with these changes, with specks (and a poured node beside each) that are poured too; None where
    a trowel cannot place what is not."""
    fill = steps(np.maximum(change_mm, 0.0))
    poured, bays = placed.poured.copy(), placed.task.case.nodes.bays
    of_node = bays.of_node.copy()
    for part, pour in joined:
        poured[part], of_node[part] = True, of_node[pour]
    by_hand = trowelled_parts(task=task, fill=fill, poured=poured)
    if by_hand is None:
        return None
    return place(
        name=placed.name,
        task=task,
        grind=steps(np.maximum(-change_mm, 0.0)),
        fill=fill,
        poured=poured,
        by_hand=by_hand,
        bays=replace(bays, of_node=of_node),
        method=placed.method,
        abc_mm=placed.abc_mm,
        twist_mm=placed.twist_mm,
    )


@dataclass(slots=True, kw_only=True, eq=False)
class _Speck:
    """Its nodes, how often it was made larger (or DROPPED) and by how much deeper; its nodes as tried now."""

    part: Ints
    grown: int
    deeper_mm: float = 0.0
    now: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Tidier:
    """Changes of height in mm at the nodes, up where filled; what is poured and what lies at a doorway, whose
    height counts to a hair, stays as it is."""

    mender: Mender
    nodes: Nodes
    poured: Mask

    def specks(self, change_mm: Floats) -> list[Ints]:
        """Areas that are ground or filled by hand and are too small, and skims that are too thin."""
        areas = [
            *parts_of(nodes=self.nodes, where=change_mm < 0.0),
            *parts_of(nodes=self.nodes, where=(change_mm > 0.0) & ~self.poured),
        ]
        return [part for part in areas if self._is_small(part) or self._is_thin(change_mm[part])]

    def without(self, parts: list[Ints], *, change_mm: Floats) -> Floats | None:
        """With those specks dropped that no rule needs and the others made larger; None if the rules cannot
        be kept so.

        A speck is needed where a rule is broken at it without it, or an edge rests on it there; beside a pour
        it is its end. A larger one that breaks a rule is made deeper where it does, as what lies around it
        has changed, else larger elsewhere, then left as it was. What is filled elsewhere is filled up by the
        hair that edges on larger specks leave it too low.
        """
        barred = self.poured | self.mender.at_door | self.nodes.unground | self.nodes.unfilled
        specks = [_Speck(part=part, grown=0 if self._stays(part) else DROPPED) for part in parts]
        seen: Seen | None = None
        for _ in range(MOST_LOOKS):
            tried = change_mm.copy()
            for one in specks:
                one.now = one.part
                if one.grown == DROPPED:
                    tried[one.part] = 0.0
            for one in specks:
                if seen is not None and 0 <= one.grown < MOST_GROWN:
                    self._grow(tried, speck=one, seen=seen, barred=barred)
            first = seen is None
            seen = self.mender.seen(tried)
            if seen.worst() > BROKEN_MM:
                low = self._low(tried, specks=specks, seen=seen)
                barred = barred | self._learnt(tried, specks=specks, seen=seen, mended=low)
                change_mm = np.where(low, change_mm + seen.gap, change_mm)
            elif not first or all(one.grown == DROPPED for one in specks):
                return tried
        return None

    def _low(self, change_mm: Floats, *, specks: list["_Speck"], seen: Seen) -> Mask:
        """What is filled by hand, and is no speck, and lies too low by no more than a hair; no skim becomes a
        patch by it."""
        task = self.mender.task
        skim, patch = skim_mm(task=task), min(task.placing.greatest_depth_mm, task.case.fill_cap_mm)
        found = (seen.gap > BROKEN_MM) & (seen.gap <= HAIR_MM) & (change_mm > 0.0)
        found &= ~self.poured & ~self.mender.at_door
        found &= change_mm + seen.gap <= np.where(change_mm <= skim, skim, patch)
        for one in specks:
            found[one.now] = False
        return found

    def _learnt(self, change_mm: Floats, *, specks: list["_Speck"], seen: Seen, mended: Mask) -> Mask:
        """What is to be done with each speck that has a part in a broken rule which is not `mended`; the
        nodes that none may take after that."""
        over_mm = np.maximum(seen.gap, seen.rise)
        broken = (over_mm > BROKEN_MM) & ~mended
        touched = self.mender.touching(change_mm=change_mm, seen=seen, where=broken)
        barred = np.zeros_like(touched)
        for one in specks:
            own_mm = float(over_mm[one.part].max())
            if len(one.now) > len(one.part) and own_mm > BROKEN_MM:
                one.deeper_mm += own_mm
            else:
                barred[one.now] = touched[one.now]
            one.grown += bool(touched[one.now].any())
        return barred

    def _stays(self, part: Ints) -> bool:
        return bool(self.mender.at_door[part].any()) or len(self._poured_beside(part)) > 0

    def _grow(self, change_mm: Floats, *, speck: "_Speck", seen: Seen, barred: Mask) -> None:
        """Make the speck in the changes as deep and as large as it has to be."""
        part = speck.part
        filled = bool(change_mm[part[0]] > 0.0)
        if filled and self._joins(change_mm, part=part):
            change_mm[part] = np.maximum(change_mm[part], self._least_pour_mm())
            return
        if not self.mender.at_door[part].any():
            change_mm[part] = self._deeper(change_mm[part], by_mm=speck.deeper_mm)
        spare, depth = (seen.gap, RIM_MM) if filled else (seen.rise, -LEAST_MM)
        while self._is_small(speck.now):
            around = beside(nodes=self.nodes, part=speck.now)
            free = around[(change_mm[around] == 0.0) & ~barred[around]]
            if not len(free):
                break
            taken = free[int(np.argmax(spare[free]))]
            change_mm[taken] = depth
            speck.now = np.append(speck.now, taken)

    def _deeper(self, change_mm: Floats, *, by_mm: float) -> Floats:
        """Filled higher by so much, and as deep somewhere as is placed, or ground by whole passes; within the
        limits."""
        task = self.mender.task
        if change_mm[0] < 0.0:
            passes = up_to_passes(np.array(by_mm))
            return np.maximum(change_mm - passes, -most_passes(task=task) * SKIN_MM)
        deeper = np.minimum(change_mm + by_mm, task.case.fill_cap_mm)
        deepest = int(np.argmax(deeper))
        deeper[deepest] = max(deeper[deepest], LEAST_MM)
        return deeper

    def joined(self, change_mm: Floats, *, specks: list[Ints]) -> list[tuple[Ints, int]]:
        """The specks that are now as deep as a pour beside them, with a node of it."""
        least_mm = self._least_pour_mm() - 1e-6
        found = []
        for part in specks:
            pour = self._poured_beside(part)
            if len(pour) and change_mm[part].min() >= least_mm:
                found.append((part, int(pour[0])))
        return found

    def _joins(self, change_mm: Floats, *, part: Ints) -> bool:
        lacks_mm = self._least_pour_mm() - float(change_mm[part].min())
        return lacks_mm <= JOINED_MM and len(self._poured_beside(part)) > 0

    def _poured_beside(self, part: Ints) -> Ints:
        around = beside(nodes=self.nodes, part=part)
        return np.asarray(around[self.poured[around]])

    def _least_pour_mm(self) -> float:
        return float(max(self.mender.task.case.least_mm, LEAST_MM))

    def _is_small(self, part: Ints) -> bool:
        return is_small(nodes=self.nodes, part=part)

    def _is_thin(self, change_mm: Floats) -> bool:
        return bool(0.0 < change_mm.max() < LEAST_MM - 1e-6)
