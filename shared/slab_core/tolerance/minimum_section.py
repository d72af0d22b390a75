"""What ASTM E1155 asks of a test section and its lines, in words when it is not met.

Sources: least line length, side and A/30 from public secondary pages; 2·√A from memory; one older
metric copy has 12 m² instead of 320 ft² for the least area.
"""

from math import sqrt

FOOT_M = 0.3048
LEAST_AREA_FT2 = 320.0
LEAST_SIDE_FT = 8.0
LEAST_LINE_FT = 11.0
ROUNDING = 1.02
"""300 mm spacing stands for 12 in, so 3.3 m stands for 11 ft."""


def least_z_count(area_ft2: float) -> float:
    """Readings z that a section of this area needs: 2·√A to 1,600 ft² (from memory), A/30 above."""
    return 2.0 * sqrt(area_ft2) if area_ft2 <= 1600.0 else area_ft2 / 30.0


def shortcomings(
    *, area_m2: float, width_m: float, lengths_m: tuple[float, ...], z_count: int
) -> tuple[str, ...]:
    """One phrase for each thing that is below the standard's minimum."""
    area, side = area_m2 / FOOT_M**2, width_m / FOOT_M
    shortest = min(lengths_m) / FOOT_M
    needed = least_z_count(max(area, LEAST_AREA_FT2))
    found = []
    if area < LEAST_AREA_FT2:
        found.append(f"the section has {area:.0f} ft² of at least {LEAST_AREA_FT2:.0f} ft²")
    if side < LEAST_SIDE_FT:
        found.append(f"its shorter side is {side:.1f} ft of at least {LEAST_SIDE_FT:.0f} ft")
    if shortest * ROUNDING < LEAST_LINE_FT:
        found.append(f"the shortest line is {shortest:.1f} ft of at least {LEAST_LINE_FT:.0f} ft")
    if z_count < needed:
        found.append(f"the lines give {z_count} differences over 10 ft of at least {needed:.0f}")
    return tuple(found)
