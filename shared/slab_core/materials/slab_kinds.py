"""What a slab takes that nobody has seen yet: by the floor that lies on it, its age and its area.

The logarithm of a rate (bags of compound, or hours of the large grinder for height, by the m²) is normal
from slab to slab, with mean and variance both unknown: the conjugate normal-inverse-gamma model. A firm
states what it believes and keeps beside it what its own jobs showed (`seen`), so that nothing is counted
twice when they are learned from again.
"""

from dataclasses import dataclass
from math import hypot, log, sqrt

from slab_core.materials.slab_kinds_model import Age, Covered, SlabKind, SlabRate
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2

AGES: tuple[Age, ...] = ("recent", "settled", "old", "unknown")
RECENT_YEARS, SETTLED_YEARS = 10, 40

SPREAD_SLABS = 6.0
"""How many slabs the stated spread is worth (from memory)."""

UNEVEN_M2 = 100 * FOOT2_M2
"""A floor of this area varies about its building's own rate as much as buildings vary (from memory): a small
room may be all hollow, a large floor holds a bit of everything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Believed:
    """What is believed of a rate: the mean of its logarithm, what that is worth in slabs, and its standard
    deviation from slab to slab."""

    mean: float
    slabs: float
    sd: float

    def of_one_sd(self, area_m2: float) -> float:
        """Standard deviation of the logarithm for one floor of this area, the mean's own doubt in it."""
        return self.sd * sqrt(1.0 / self.slabs + unevenness(area_m2))


def unevenness(area_m2: float) -> float:
    """Variance of one floor's logarithm over that of buildings."""
    return 1.0 + UNEVEN_M2 / area_m2


def believed(rate: SlabRate) -> Believed:
    """The conjugate update of the prior by what was seen; the prior where that is nothing."""
    prior, seen = log(rate.median_per_m2), rate.seen
    if seen.weight <= 0.0:
        return Believed(mean=prior, slabs=rate.slabs, sd=rate.sd)
    showed = log(seen.median_per_m2)
    slabs = rate.slabs + seen.weight
    degrees = SPREAD_SLABS + seen.count
    squares = rate.sd**2 * (SPREAD_SLABS - 2.0) + seen.sd**2 * seen.count
    squares += rate.slabs * seen.weight / slabs * (showed - prior) ** 2
    return Believed(
        mean=(rate.slabs * prior + seen.weight * showed) / slabs,
        slabs=slabs,
        sd=sqrt(squares / (degrees - 2.0)),
    )


def age_of(*, built_year: int | None, year: int) -> Age:
    """The age that a building's slab counts as in a year."""
    if built_year is None:
        return "unknown"
    years = year - built_year
    if years < RECENT_YEARS:
        return "recent"
    return "settled" if years < SETTLED_YEARS else "old"


def kind_of(*, kinds: tuple[SlabKind, ...], removal: str, age: Age) -> SlabKind:
    """The firm's own kind, else the starter's."""
    for kind in (*kinds, *STARTER):
        if (kind.removal, kind.age) == (removal, age):
            return kind
    raise KeyError(f"no slab under {removal!r}")


_UNDER: tuple[tuple[Covered, float, float], ...] = (
    ("none", 1.0, 1.0),
    ("floating", 0.9, 0.9),
    ("carpet", 1.1, 1.0),
    ("glued-wood", 1.0, 1.2),
    ("tile", 1.1, 1.3),
)
_OF_AGE: tuple[tuple[Age, float], ...] = (("recent", 0.9), ("settled", 1.0), ("old", 1.2), ("unknown", 1.0))
_SDS_IN_RANGE = 3.0
_USUAL_M2 = 300 * FOOT2_M2
_SLABS = 4.0


def _starter() -> tuple[SlabKind, ...]:
    """2-8 bags per 100 ft² are usual, and 1-4 machine-hours, 0.6-0.8 of them for bond (common practice, no
    single source); ranges are taken as 1.5 standard deviations of jobs of 300 ft² to either side. What the
    floor on it and the age change is from memory, and an age nobody knows adds to the spread."""
    of_one = _SDS_IN_RANGE * sqrt(unevenness(_USUAL_M2) + 1.0 / _SLABS)
    bags_sd, grinding_sd = log(8.0 / 2.0) / of_one, log(3.2 / 0.4) / of_one
    made = []
    for removal, more_bags, more_grinding in _UNDER:
        for age, older in _OF_AGE:
            doubt = 0.12 if age == "unknown" else 0.0
            bags = SlabRate(
                median_per_m2=4.0 * more_bags * older / UNEVEN_M2, sd=round(hypot(bags_sd, doubt), 3)
            )
            grinding = SlabRate(
                median_per_m2=1.1 * more_grinding * older / UNEVEN_M2,
                sd=round(hypot(grinding_sd, doubt), 3),
            )
            made.append(SlabKind(removal=removal, age=age, bags=bags, grinding=grinding))
    return tuple(made)


STARTER: tuple[SlabKind, ...] = _starter()
"""Every kind as it is believed before any job."""
