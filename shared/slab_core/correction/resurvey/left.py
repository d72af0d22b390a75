"""How deep what is left lies at each node, when the heights of an earlier plan stand."""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.correction.progress_model import WorkKind
from slab_core.correction.resurvey.standing import EarlierPlan
from slab_core.correction.resurvey.works import Work, works_of
from slab_core.correction.task import Task
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.grid import STEP_MM, Ints, Mask


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Left:
    """Grinding and fill at the nodes in storage steps, and the nodes that are poured."""

    grind: Ints
    fill: Ints
    poured: Mask

    def same_as(self, *, grind: Ints, fill: Ints) -> bool:
        """Whether it is the work that is known already."""
        return np.array_equal(self.grind, grind) and np.array_equal(self.fill, fill)

    def poured_thick_enough(self, *, task: Task, where: Mask) -> "Left":
        """The marked fill at least as thick as compound can be poured, with a key ground in under it; where a
        keep-out zone forbids the key, as thick as it is."""
        thin = where & (self.fill < _least(task)) & (self.fill > 0) & ~task.case.nodes.unground
        missing = np.where(thin, _least(task) - self.fill, 0).astype(np.int32)
        return replace(self, fill=self.fill + missing, grind=self.grind + missing, poured=self.poured | where)


def left_to_do(*, task: Task, last: EarlierPlan, pending: tuple[Work, ...], alone_mm: float) -> Left:
    """Work that is not done goes on to its height; other places are brought to theirs where they are farther
    off than `alone_mm`, doorways where they are farther off than a film. A family that does not fill or grind
    does neither here, and nobody does in keep-out zones what they forbid."""
    inside, nodes = task.surface.inside, task.case.nodes
    off = (target(last) - task.surface.height)[inside]  # to be filled where above 0
    grinds = _on(pending, kinds=("grind",), inside=inside)
    pours = _on(pending, kinds=("pour",), inside=inside) & (off > 0)
    trowels = _on(pending, kinds=("patch", "skim"), inside=inside) & (off > 0)
    alone = np.where(nodes.held, min(alone_mm, SKIN_MM), alone_mm) / STEP_MM
    other = np.abs(off) > alone
    fill = np.where(pours | trowels | other, np.maximum(off, 0), 0)
    ground = np.where(grinds | other, np.maximum(-off, 0), 0)
    # A pour's rim is ground in as planned where that is not done; a hair too thin it is poured as it is.
    thin = pours & (fill < _least(task)) & (grinds | (_least(task) - fill > SKIN_MM / STEP_MM))
    key = np.where(thin, _least(task) - fill, 0)
    fill, key = np.where(nodes.unfilled, 0, fill), np.where(nodes.unground, 0, key)
    ground = np.where(nodes.unground, 0, ground)
    if not task.family.fills:
        fill, key = np.zeros_like(fill), np.zeros_like(key)
    if not task.family.grinds or task.case.grind_cap_mm <= 0.0:
        ground, key = np.zeros_like(ground), np.zeros_like(key)
    return Left(
        grind=(ground + key).astype(np.int32), fill=(fill + key).astype(np.int32), poured=pours & (fill > 0)
    )


def target(last: EarlierPlan) -> Ints:
    """The heights that a plan leads to, in storage steps, shape (ny, nx)."""
    return np.asarray(last.began - last.plan.grind + last.plan.fill, dtype=np.int32)


def compound_by_now(*, earlier: tuple[EarlierPlan, ...], done: frozenset[str]) -> Ints:
    """How thick the fill of all earlier plans lies by now where it is as planned, in storage steps, shape
    (ny, nx). Work that several plans have counts as the last of them planned it."""
    depth, rest = np.zeros_like(earlier[-1].began), set(done)
    for one in reversed(earlier):
        own = [work for work in works_of(one) if work.id in rest]
        rest -= {work.id for work in own}
        depth += sum((work.depth for work in own if work.kind != "grind"), start=np.zeros_like(depth))
    return depth


def _on(works: tuple[Work, ...], *, kinds: tuple[WorkKind, ...], inside: Mask) -> Mask:
    where = np.zeros_like(inside)
    for work in works:
        if work.kind in kinds:
            where |= work.where
    return where[inside]


def _least(task: Task) -> int:
    return int(np.rint(task.case.least_mm / STEP_MM))
