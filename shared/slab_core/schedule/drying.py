"""Least and greatest waits between two pieces of work, from the products and the climate."""

from dataclasses import dataclass

from slab_core.materials import drying
from slab_core.materials.model import Adhesive, Climate, Compound, Patch, Primer
from slab_core.schedule.model import Waits


@dataclass(frozen=True, slots=True, kw_only=True)
class Products:
    """What the waits depend on. What was poured before the work begins has rested for `rested_hours`."""

    compound: Compound
    primer: Primer
    adhesive: Adhesive
    climate: Climate
    waits: Waits
    patch: Patch = Patch()
    rested_hours: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """Elapsed hours from an end to a start, and what is waited for."""

    least_hours: float
    greatest_hours: float | None
    why: str


NEW_COMPOUND_ON = frozenset({"pour", "edges", "polish"})
"""Work on a pour that needs it as hard as the next pour does."""

GROUND = frozenset({"grind", "hand-grind", "bond-grind", "edge-grind"})
WALKED_ON = frozenset({"finish", "verify", "undercut", "casing-legs"})
LIGHT_WORK = frozenset({"tape-off", "transitions", "trim", "carpet-edge", "clean"})
FULL_LOAD = frozenset({"furniture-in", "hand-over"})


def wait_between(*, before: str, after: str, depth_m: float, products: Products) -> Wait | None:
    """The wait between two codes, or None when the second may follow at once.

    `depth_m` is the greatest depth of the compound that has to dry, in metres.
    """
    if before in ("pour", "edges"):
        return _after_compound(before=before, after=after, depth_m=depth_m, products=products)
    if before == "resting":
        return _after_earlier_pours(after=after, depth_m=depth_m, products=products)
    if before in ("patch", "skim"):
        return _after_patch(after=after, products=products)
    if before == "spread":
        return _after_spread(after=after, products=products)
    waits, primer = products.waits, products.primer
    if (before, after) == ("prime", "pour"):
        dry = drying.primer_dry_hours(primer=primer, climate=products.climate)
        return Wait(least_hours=dry, greatest_hours=primer.pour_within_hours, why="the primer to dry")
    if (before, after) in (("moisture-test", "moisture-read"), ("moisture-retest", "moisture-reread")):
        return _least(waits.moisture_hours, "the moisture test to settle")
    if before in ("moisture-read", "moisture-reread") and after == "spread":
        return Wait(least_hours=0.0, greatest_hours=waits.moisture_valid_hours, why="the moisture result")
    if (before, after) == ("acclimation", "spread"):
        return _least(waits.acclimation_hours, "the boards to acclimate")
    return _least(waits.skim_hours, "the skim to dry") if (before, after) == ("finish", "spread") else None


def lift_to_dry(*, primed: bool, products: Products) -> Wait:
    """From a lift to the primer on it, or to the pour on that."""
    hours = drying.next_pour_hours(compound=products.compound, climate=products.climate)
    if not primed:
        return _least(hours, "the lift under it to dry")
    dry = drying.primer_dry_hours(primer=products.primer, climate=products.climate)
    return _least(hours + dry, "the lift under it to dry, and then the primer on it")


def _least(hours: float, why: str) -> Wait:
    return Wait(least_hours=hours, greatest_hours=None, why=why)


def _after_compound(*, before: str, after: str, depth_m: float, products: Products) -> Wait | None:
    compound, climate = products.compound, products.climate
    what = "the pour" if before == "pour" else "the borders"
    if after in NEW_COMPOUND_ON:
        return _least(drying.next_pour_hours(compound=compound, climate=climate), f"{what} to dry")
    if after == "spread":
        hours = drying.cover_hours(compound=compound, depth_m=depth_m, climate=climate)
        return _least(hours, f"{what} to dry through for wood")
    if after in WALKED_ON:
        return _least(drying.walk_hours(compound=compound, climate=climate), f"{what} to bear walking")
    return None


def _after_earlier_pours(*, after: str, depth_m: float, products: Products) -> Wait | None:
    """Wet compound is neither ground nor covered; what has passed since it was poured counts."""
    compound, climate = products.compound, products.climate
    if after in GROUND or after in NEW_COMPOUND_ON or after in ("patch", "skim"):
        hours = drying.next_pour_hours(compound=compound, climate=climate)
    elif after == "spread":
        hours = drying.cover_hours(compound=compound, depth_m=depth_m, climate=climate)
    elif after in WALKED_ON or after == "prime":
        hours = drying.walk_hours(compound=compound, climate=climate)
    else:
        return None
    left = hours - products.rested_hours
    return _least(left, "what is poured already to dry") if left > 0.0 else None


def _after_patch(*, after: str, products: Products) -> Wait | None:
    """A patch is hard after hours, for whatever goes over it: the grinder, the check, boots or boards."""
    if after == "spread" or after in NEW_COMPOUND_ON or after in WALKED_ON:
        hours = products.patch.dry_hours * drying.cold_factor(climate=products.climate)
        return _least(hours, "the patch to dry")
    return None


def _after_spread(*, after: str, products: Products) -> Wait | None:
    if after in FULL_LOAD:
        return _least(products.adhesive.cure_hours, "the adhesive to cure")
    if after in LIGHT_WORK:
        return _least(products.waits.light_work_hours, "the adhesive to bear light work")
    return None
