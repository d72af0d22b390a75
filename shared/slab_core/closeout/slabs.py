"""What jobs say of slabs that nobody has seen yet: the firm's own bags and grinding hours by the m², for each
kind of floor that lay on them and each age.

The update is the conjugate one of materials/slab_kinds.py. A job's weight is lowered as a Student
distribution of few degrees of freedom would, so that an odd slab counts little, and an entry that no slab
could explain is left out and named.
"""

from math import exp, log, sqrt
from typing import NamedTuple

import numpy as np

from slab_core.closeout.learn import ABSURD_SDS, DEGREES
from slab_core.closeout.model import LearnedSlab, SlabTold
from slab_core.materials.rates_model import Rates
from slab_core.materials.slab_kinds import believed, kind_of, unevenness
from slab_core.materials.slab_kinds_model import Age, Covered, Seen, SlabKind, SlabRate
from slab_core.numerics.grid import Floats, Mask
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2

LEAST_PER_M2 = {"bags": 0.5 / (100 * FOOT2_M2), "grinding": 0.1 / (100 * FOOT2_M2)}
"""A slab that took less, or nothing, counts as one that took this (from memory), as a logarithm knows no 0;
but as no odder than three standard deviations, for to need nothing is no absurd thing."""

_NOTHING_SDS = 3.0

_USUAL_M2 = 300 * FOOT2_M2
_EIGHTY = 0.8416
_ROUNDS = 50


class Told(NamedTuple):
    """What slabs took by the m², as logarithms, and their areas in m²; both shape (n,)."""

    logs: Floats
    areas: Floats


def learn_slabs(
    *, rates: Rates, told: tuple[SlabTold, ...]
) -> tuple[tuple[SlabKind, ...], tuple[LearnedSlab, ...]]:
    """The firm's kinds with what jobs showed in place of what they showed before, and the effect of it. Kinds
    that no job tells of stay as they are."""
    by_kind: dict[tuple[Covered, Age], list[SlabTold]] = {}
    for each in told:
        by_kind.setdefault((each.removal, each.age), []).append(each)
    kinds = {(kind.removal, kind.age): kind for kind in rates.slab_kinds}
    effects: list[LearnedSlab] = []
    for (removal, age), slabs in sorted(by_kind.items()):
        kind = kind_of(kinds=rates.slab_kinds, removal=removal, age=age)
        bags = _with_seen("bags", kind.bags, slabs)
        grinding = _with_seen("grinding", kind.grinding, slabs)
        kinds[removal, age] = SlabKind(removal=removal, age=age, bags=bags, grinding=grinding)
        effects += [
            _effect(kind, "bags", kind.bags, bags),
            _effect(kind, "grinding", kind.grinding, grinding),
        ]
    return tuple(kinds.values()), tuple(effects)


def seen(*, rate: SlabRate, told: Told) -> Seen:
    """What slabs showed beside the prior; their order is no matter."""
    if not len(told.logs):
        return Seen()
    left_out = absurd_slabs(rate=rate, told=told)
    kept = Told(told.logs[~left_out], told.areas[~left_out])
    if not len(kept.logs):
        return Seen(left_out=int(left_out.sum()))
    counts = _weights(rate, kept)
    weights = counts / _unevenness(kept.areas)
    middle = float(weights @ kept.logs / weights.sum())
    spread = float(weights @ np.square(kept.logs - middle) / counts.sum())
    return Seen(
        jobs=len(kept.logs),
        left_out=int(left_out.sum()),
        weight=float(weights.sum()),
        count=float(counts.sum()),
        median_per_m2=exp(middle),
        sd=spread**0.5,
    )


def absurd_slabs(*, rate: SlabRate, told: Told) -> Mask:
    """Which entries no slab explains: each is held against what the prior and all others foretell, shape
    (n,)."""
    found = np.zeros(len(told.logs), dtype=np.bool_)
    for k in range(len(told.logs)):
        others = Told(np.delete(told.logs, k), np.delete(told.areas, k))
        middle, slabs = _middle(rate, others)
        sd = rate.sd * (unevenness(float(told.areas[k])) + 1.0 / slabs) ** 0.5
        found[k] = abs(told.logs[k] - middle) > ABSURD_SDS * sd
    return found


def _with_seen(what: str, rate: SlabRate, slabs: list[SlabTold]) -> SlabRate:
    amounts = [(getattr(each, what), each.area_m2) for each in slabs]
    known = [(amount, area) for amount, area in amounts if amount is not None]
    logs = [_log(rate, amount / area, least=LEAST_PER_M2[what], area_m2=area) for amount, area in known]
    told = Told(np.array(logs), np.array([area for _, area in known]))
    return SlabRate(
        median_per_m2=rate.median_per_m2, sd=rate.sd, slabs=rate.slabs, seen=seen(rate=rate, told=told)
    )


def _log(rate: SlabRate, took: float, *, least: float, area_m2: float) -> float:
    if took > least:
        return log(took)
    lowest = log(rate.median_per_m2) - _NOTHING_SDS * rate.sd * sqrt(unevenness(area_m2))
    return max(log(least), lowest)


def _effect(kind: SlabKind, what: str, before: SlabRate, after: SlabRate) -> LearnedSlab:
    def kept(rate: SlabRate) -> tuple[float, float]:
        found = believed(rate)
        return exp(found.mean), exp(found.mean + _EIGHTY * found.of_one_sd(_USUAL_M2))

    (median_before, p80_before), (median_after, p80_after) = kept(before), kept(after)
    return LearnedSlab(
        removal=kind.removal,
        age=kind.age,
        what=what,
        jobs=after.seen.jobs,
        left_out=after.seen.left_out,
        median_before_per_m2=median_before,
        median_after_per_m2=median_after,
        p80_before_per_m2=p80_before,
        p80_after_per_m2=p80_after,
    )


def _weights(rate: SlabRate, told: Told) -> Floats:
    """What each slab counts, at most as a whole one."""
    middle, _ = _middle(rate, told)
    return _student(rate, told, middle)


def _middle(rate: SlabRate, told: Told) -> tuple[float, float]:
    """Posterior mean of the logarithm under the weights that go with it, and what it is worth in slabs."""
    prior = log(rate.median_per_m2)
    middle = float(np.median(told.logs)) if len(told.logs) else prior
    slabs = rate.slabs
    for _ in range(_ROUNDS):
        weights = _student(rate, told, middle) / _unevenness(told.areas)
        slabs = rate.slabs + float(weights.sum())
        before, middle = middle, (rate.slabs * prior + float(weights @ told.logs)) / slabs
        if abs(middle - before) < 1e-12:
            break
    return middle, slabs


def _student(rate: SlabRate, told: Told, middle: float) -> Floats:
    squares = np.square((told.logs - middle) / rate.sd) / _unevenness(told.areas)
    return np.asarray(np.minimum(1.0, (DEGREES + 1.0) / (DEGREES + squares)))


def _unevenness(areas: Floats) -> Floats:
    return np.array([unevenness(float(area)) for area in areas])
