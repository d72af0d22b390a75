"""Refusals for two-peg checks that nothing can be found from."""

from math import isfinite

from slab_core.errors import Problem
from slab_core.rooms.wording import refusal
from slab_core.surveys.blocks import LARGEST_HEIGHT_M
from slab_core.surveys.collimation import base_m, slope_of
from slab_core.surveys.model import PegReadings, PegTest, Setup

FARTHEST_SIGHT_M = 300.0
"""A rod is read no farther away."""

LEAST_BASE_M = 1.0
"""Pegs whose distances differ by less tell nothing of the line of sight."""

LARGEST_SLOPE = 0.01
"""A line of sight is not out by 10 mm per m; a rod reading is."""


def peg_problems(test: PegTest, *, setups: tuple[Setup, ...], pointer: str) -> tuple[Problem, ...]:
    """Refusals for one two-peg check."""
    lost = (
        *_stand(test.middle, pointer=f"{pointer}/middle"),
        *_stand(test.near, pointer=f"{pointer}/near"),
        *_accuracy(test, pointer=f"{pointer}/sd"),
    )
    return (*lost, *_for_whom(test, setups=setups, pointer=pointer)) or _shape(test, pointer=pointer)


def repeated_tests(tests: tuple[PegTest, ...], *, pointer: str) -> tuple[Problem, ...]:
    """Refusals for checks of an instrument that an earlier one is of."""
    first: dict[str, int] = {}
    problems = []
    for k, test in enumerate(tests):
        if test.instrument in first:
            whose = f"of “{test.instrument}”" if test.instrument else "that name no instrument"
            both = f"two-peg checks {first[test.instrument] + 1} and {k + 1} are both {whose}"
            detail = f"{both}; give the one that counts"
            problems.append(refusal(code="peg-test-repeated", detail=detail, pointer=f"{pointer}/{k}"))
        first.setdefault(test.instrument, k)
    return tuple(problems)


def distance_problems(distance_m: float, *, what: str, pointer: str) -> tuple[Problem, ...]:
    """A refusal for what is no distance from a level to a rod."""
    if isfinite(distance_m) and 0 <= distance_m <= FARTHEST_SIGHT_M:
        return ()
    detail = f"{what} is {distance_m:g} m away; a sight is 0 to {FARTHEST_SIGHT_M:g} m long: check its unit"
    return (refusal(code="not-a-distance", detail=detail, pointer=pointer),)


def _stand(stand: PegReadings, *, pointer: str) -> tuple[Problem, ...]:
    problems: list[Problem] = []
    for peg, rod, distance in (
        ("a", stand.rod_a_m, stand.distance_a_m),
        ("b", stand.rod_b_m, stand.distance_b_m),
    ):
        if not isfinite(rod) or abs(rod) > LARGEST_HEIGHT_M["rod"]:
            detail = f"the rod reading to peg {peg} is {rod:g} m; check its unit"
            problems.append(refusal(code="not-a-rod-reading", detail=detail, pointer=f"{pointer}/rod_{peg}"))
        problems += distance_problems(distance, what=f"peg {peg}", pointer=f"{pointer}/distance_{peg}")
    return tuple(problems)


def _accuracy(test: PegTest, *, pointer: str) -> tuple[Problem, ...]:
    if isfinite(test.sd_m) and test.sd_m > 0:
        return ()
    detail = f"the two-peg check has the accuracy {test.sd_m:g} m; a reading's sd is greater than 0"
    return (refusal(code="sd-not-positive", detail=detail, pointer=pointer),)


def _for_whom(test: PegTest, *, setups: tuple[Setup, ...], pointer: str) -> tuple[Problem, ...]:
    used = dict.fromkeys(setup.instrument for setup in setups)
    if test.instrument in used or (not test.instrument and used):
        return ()
    whose = f"a two-peg check of “{test.instrument}”" if test.instrument else "a two-peg check"
    detail = (
        f"{whose} is of no use to a survey whose setups use: {', '.join(used) or 'nothing'}; name the "
        "instrument of the setups that it is for, or leave it out"
    )
    return (refusal(code="peg-test-without-setup", detail=detail, pointer=f"{pointer}/instrument"),)


def _shape(test: PegTest, *, pointer: str) -> tuple[Problem, ...]:
    if base_m(test) < LEAST_BASE_M:
        detail = (
            f"seen from the second stand the pegs' distances differ by only {base_m(test):.2f} m more than "
            "from the first; stand once in the middle, and once close to one peg, 20 m or more from the other"
        )
        return (refusal(code="peg-test-without-base", detail=detail, pointer=f"{pointer}/near/distance_a"),)
    slope, _ = slope_of(test)
    if abs(slope) <= LARGEST_SLOPE:
        return ()
    detail = (
        f"by this check the line of sight is out by {1000 * slope:.1f} mm per m; no level is by more than "
        f"{1000 * LARGEST_SLOPE:g}: read the pegs again, or check units and which peg is which"
    )
    return (refusal(code="peg-test-absurd", detail=detail, pointer=pointer),)
