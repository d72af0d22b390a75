"""Ways of placing weighed against each other: the cheapest that passes, and why others were not taken."""

from dataclasses import dataclass, field, replace

import numpy as np

from slab_core.correction.evaluate import recheck, recheck_ramps
from slab_core.correction.model import Considered
from slab_core.correction.placing.free_pour import cannot_be_free, leaves_too_much
from slab_core.correction.placing.placed import Placed, meets_doors, runs_out_at_doors
from slab_core.correction.placing_error import allowed_gap_m
from slab_core.tolerance.model import RuleReport
from slab_core.units.display import millimetres

DRAWN_M = 2e-5
"""Depths are drawn in storage steps: two of them say nothing."""

DEARER, CANNOT = "costs more", "cannot be placed: too deep or too wide for a trowel, or beyond a limit"
DEARER_UNCHECKED = "costs more, so it was not checked against the rules"
UNTIDY = "costs more once no places are left that are too small to work"
UNCHECKED = "not checked against the rules, as enough cheaper ones of its kind were"

STEEP = "at a doorway it would end steeper than 1/8 in in a foot"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What came of weighing a way: whether it is allowed and passes, the cheapest or not, and by how much it
    departs more than is planned: infinite if it cannot be placed, minus infinite if it was not checked as it
    costs more."""

    passes: bool
    over_m: float


@dataclass(slots=True, kw_only=True, eq=False)
class Weighing:
    """The best way so far with its re-check, and for each kind of way the best of it. Only ways that cost
    less than `beat` count; `turned_away` says that there were others."""

    beat: float = np.inf
    best: Placed | None = None
    after: tuple[RuleReport, ...] = ()
    turned_away: bool = False
    kinds: dict[str, Considered] = field(default_factory=dict)

    def least_cost(self) -> float:
        """What has to be beaten."""
        return self.beat if self.best is None else self.best.cost

    def offer(self, placed: Placed | None, *, kind: str) -> Found:
        """Weigh a way. One that costs more than what is known is not checked against the rules."""
        if placed is None:
            self._note(Considered(name=kind, cost=None, bound=0.0, passes=False, why_not=CANNOT))
            return Found(passes=False, over_m=np.inf)
        if placed.is_free() and self.cannot_be_free(placed, kind=kind):
            return Found(passes=False, over_m=np.inf)
        if placed.cost >= self.least_cost():
            self.tell(placed, kind=kind)
            return Found(passes=False, over_m=-np.inf)
        after = recheck(task=placed.task, grind=placed.grind, fill=placed.fill)
        why = _why_not(placed=placed, after=after)
        self._note(Considered(name=kind, cost=placed.cost, bound=0.0, passes=not why, why_not=why))
        if not why:
            self.best, self.after = placed, after
        over_m = max(one.largest_m - _allowed_m(placed=placed, report=one) for one in after)
        return Found(passes=not why, over_m=over_m)

    def cannot_be_free(self, placed: Placed, *, kind: str) -> bool:
        """Whether pours without pins cannot be made so, which is then told with the reason."""
        why = cannot_be_free(placed)
        if why:
            self._note(Considered(name=kind, cost=placed.cost, bound=0.0, passes=False, why_not=why))
        return bool(why)

    def exchange(self, placed: Placed) -> None:
        """Take this in place of the best, a way of the same kind, if it passes too."""
        after = recheck(task=placed.task, grind=placed.grind, fill=placed.fill)
        before = self.best
        if before is None or _why_not(placed=placed, after=after):
            return
        self.best, self.after = placed, after
        for name, one in self.kinds.items():
            if one.passes and one.cost == before.cost:
                self.kinds[name] = replace(one, cost=placed.cost)

    def tell(self, placed: Placed, *, kind: str) -> None:
        """A way that was priced and not checked, since it costs more or cheaper ones of its kind failed."""
        dearer = placed.cost >= self.least_cost()
        self.turned_away |= dearer
        why = DEARER_UNCHECKED if dearer else UNCHECKED
        self._note(Considered(name=kind, cost=placed.cost, bound=0.0, passes=None, why_not=why))

    def rule_out(self, *, kind: str, why: str) -> None:
        """Nothing of this kind is weighed."""
        self._note(Considered(name=kind, cost=None, bound=0.0, passes=None, why_not=why))

    def considered(self) -> tuple[Considered, ...]:
        """All kinds, cheapest first, those without a cost last; what passed and was beaten costs more, or
        less before it would be tidied."""
        best = self.least_cost()
        told = [
            replace(one, why_not=DEARER if one.cost > best else UNTIDY)
            if one.passes and one.cost is not None and one.cost != best
            else one
            for one in self.kinds.values()
        ]
        return tuple(sorted(told, key=lambda one: (one.cost is None, one.cost or 0.0, one.name)))

    def _note(self, one: Considered) -> None:
        """One that passes is told before others, a cheap one before a dear one."""
        known = self.kinds.get(one.name)
        if known is None or _rank(one) < _rank(known):
            self.kinds[one.name] = one


def _rank(one: Considered) -> tuple[bool, bool, float]:
    return (not one.passes, one.cost is None, one.cost or 0.0)


def _allowed_m(*, placed: Placed, report: RuleReport) -> float:
    return report.rule.gap_m if placed.whole_field else allowed_gap_m(gap_m=report.rule.gap_m)


def _why_not(*, placed: Placed, after: tuple[RuleReport, ...]) -> str:
    for report in after:
        allowed = _allowed_m(placed=placed, report=report)
        if not report.passes or report.largest_m > allowed + DRAWN_M:
            return (
                f"the floor would still depart {millimetres(report.largest_m)}; "
                f"{millimetres(allowed)} is planned for a rule of {millimetres(report.rule.gap_m)}"
            )
    if placed.is_free() and (why := leaves_too_much(placed, after=after)):
        return why
    for report in recheck_ramps(task=placed.task, grind=placed.grind, fill=placed.fill):
        if not report.passes:
            return f"a ramp would depart {millimetres(report.largest_m)} from its rule"
    if not meets_doors(placed):
        return "a threshold would be out of its range"
    return "" if runs_out_at_doors(placed) else STEEP
