"""What a firm states and has seen of slabs under one kind of floor."""

from dataclasses import dataclass
from typing import Literal

Covered = Literal["none", "floating", "carpet", "glued-wood", "tile"]
Age = Literal["recent", "settled", "old", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a firm's jobs showed. `weight` is what they are worth together as slabs seen whole, `count` what
    they are worth for the spread `sd` (of the logarithm) about their median; `left_out` were absurd."""

    jobs: int = 0
    left_out: int = 0
    weight: float = 0.0
    count: float = 0.0
    median_per_m2: float = 0.0
    sd: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabRate:
    """A rate by the m². `median_per_m2` and `sd`, a standard deviation of the logarithm from slab to slab,
    are believed before any job and worth as much as `slabs` slabs; `seen` is what jobs showed."""

    median_per_m2: float
    sd: float
    slabs: float = 4.0
    seen: Seen = Seen()


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabKind:
    """Slabs under one kind of floor and of one age: bags of compound, and hours of the large grinder for
    height, as grinding for bond is known without looking."""

    removal: Covered
    age: Age
    bags: SlabRate
    grinding: SlabRate
