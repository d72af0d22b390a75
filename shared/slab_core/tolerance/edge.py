"""How far a real straightedge bends when it lies on its ends.

A uniform beam on two supports: 5 w L⁴ / (384 E I) (beam theory, from memory). The section is the box of
aluminium that crews use: on its ends it sags 0.002 in at 6 ft, 0.013 at 10 and 0.20 at 20.
"""

INCH_M = 0.0254
_GRAVITY = 9.80665

_HIGH_M, _WIDE_M, _WALL_M = 4 * INCH_M, 2 * INCH_M, INCH_M / 8
_DENSITY, _MODULUS = 2700.0, 69e9
"""kg/m³ and Pa of aluminium (from memory)."""

SECTION = "2 x 4 x 1/8 in aluminium box on edge"

LAID_M = 3.1
"""Longer edges are not laid to prove a rule: long waves are proven with a level (common practice)."""


def sag_m(length_m: float) -> float:
    """How far the middle of an edge on its two ends lies below them."""
    inner_wide, inner_high = _WIDE_M - 2 * _WALL_M, _HIGH_M - 2 * _WALL_M
    area = _WIDE_M * _HIGH_M - inner_wide * inner_high
    inertia = (_WIDE_M * _HIGH_M**3 - inner_wide * inner_high**3) / 12.0
    return 5.0 * area * _DENSITY * _GRAVITY * length_m**4 / (384.0 * _MODULUS * inertia)


def placing_sd_m(length_m: float) -> float:
    """What the sag leaves unsure in a check with a laid edge: anything between nothing and all of it."""
    return sag_m(length_m) / 12.0**0.5 if length_m <= LAID_M else 0.0
