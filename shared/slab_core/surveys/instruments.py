"""What readings are worth: standard deviations of instruments and of positions on a floor.

Common practice, no single source. A firm may state its own; these are defaults to show as such.
"""

from dataclasses import dataclass

from slab_core.scans.model import SCANNER_BIAS_M

SOURCE = "common practice, no single source"

_INCH_M = 0.0254


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """A standard deviation in metres, and the range in which practice finds it."""

    sd_m: float
    low_m: float
    high_m: float


INSTRUMENTS: dict[str, Accuracy] = {
    "digital-level": Accuracy(sd_m=0.0003, low_m=0.0003, high_m=0.0003),
    "optical-level": Accuracy(sd_m=0.0007, low_m=0.0007, high_m=0.0007),
    "rotary-laser": Accuracy(sd_m=0.0013, low_m=0.001, high_m=0.0016),
    "line-laser": Accuracy(sd_m=0.00125, low_m=0.001, high_m=0.0015),
    "scanner": Accuracy(sd_m=SCANNER_BIAS_M, low_m=0.001, high_m=0.002),
    "tape": Accuracy(sd_m=0.00065, low_m=0.0005, high_m=0.0008),
    "taper-gauge": Accuracy(sd_m=0.0003, low_m=0.0003, high_m=0.0003),
    "stretched-line": Accuracy(sd_m=0.0008, low_m=0.0005, high_m=0.0015),
}
"""One reading's standard deviation; the tape is read to 1/16 in, the gauge under an edge, a stretched line
with a rule, past its own thickness and trembling."""

POSITIONS: dict[str, Accuracy] = {
    "grid": Accuracy(sd_m=2 * _INCH_M, low_m=2 * _INCH_M, high_m=2 * _INCH_M),
    "landmark": Accuracy(sd_m=9 * _INCH_M, low_m=6 * _INCH_M, high_m=12 * _INCH_M),
}
"""How well the place of a reading is known: on a laid-out grid, or told from a landmark."""

LASER_COLLIMATION: dict[str, float] = {"line-laser": 0.0003, "rotary-laser": 0.0001}
"""Slope of a laser's plane, per metre, beyond which practice has it adjusted (no single source)."""

LEVEL_COLLIMATION = 0.0001
"""That of a level's line of sight, 3 mm at 30 m, as LEVEL_COLLIMATION_SOURCE has it."""

LEVEL_COLLIMATION_SOURCE = (
    "Standards and Specifications for Geodetic Control Networks, 1984, section 3.5, third order, from memory"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What a line for stretching weighs, and how hard it is pulled."""

    kg_per_metre: float
    tension_n: float


USUAL_LINE = Line(kg_per_metre=0.001, tension_n=50.0)
"""A braided mason's line pulled by hand; it hangs through by 1 mm over 6.4 m."""
