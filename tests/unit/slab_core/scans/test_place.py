"""Where the scans of a job stand, before a file is read."""

import numpy as np
import pytest

from slab_core.errors import InputRefused
from slab_core.scans.model import Place, Placement, Scan, Target
from slab_core.scans.place import place_scans
from slab_core.scans.register import placed

MARKS: dict[str, Place] = {
    "A": (0.1, 0.2, 1.2),
    "B": (4.9, 0.3, 0.9),
    "C": (4.5, 3.4, 1.6),
    "D": (0.2, 3.2, 0.4),
}


def seen_from(turn: float, move: Place, *, marks: str, known: str = "", id: str) -> Scan:
    """A scan that shows `marks`, of which the places of `known` are known in the job."""
    c, s = np.cos(turn), np.sin(turn)
    targets = []
    for name in marks:
        x, y, z = MARKS[name]
        scanned = (c * x - s * y + move[0], s * x + c * y + move[1], z + move[2])
        targets.append(Target(id=name, scanned_m=scanned, site_m=MARKS[name] if name in known else None))
    return Scan(id=id, sha256="", file="", targets=tuple(targets))


def misses(scan: Scan, placement: Placement) -> float:
    there = placed(points=np.array([target.scanned_m for target in scan.targets]), placement=placement)
    return float(np.abs(there - np.array([MARKS[target.id] for target in scan.targets])).max())


def test_a_chain_of_shared_targets_places_scans_that_show_no_known_place() -> None:
    first = seen_from(0.3, (500_000.0, 4_000_000.0, 300.0), marks="AB", known="AB", id="1")
    second = seen_from(-2.0, (5.0, 6.0, 7.0), marks="ABCD", id="2")
    third = seen_from(1.0, (-3.0, 0.0, 1.0), marks="CD", id="3")
    stands = place_scans((third, second, first))
    for scan in (first, second, third):
        assert misses(scan, stands[scan.id].placement) < 1e-6
        assert stands[scan.id].ties_height


def test_without_a_known_place_the_first_scan_with_targets_is_the_frame() -> None:
    first = seen_from(0.0, (0.0, 0.0, 0.0), marks="ABC", id="1")
    second = seen_from(2.0, (9.0, 9.0, 9.0), marks="ABC", id="2")
    stands = place_scans((first, second))
    assert stands["1"].placement == Placement()
    assert not stands["1"].ties_height
    assert misses(second, stands["2"].placement) < 1e-9


def test_a_scan_without_targets_stands_as_it_says_or_in_the_jobs_coordinates() -> None:
    place = Placement(origin_m=(1.0, 2.0, 3.0), turn_rad=0.5)
    said, bare = (Scan(id=name, sha256="", file="", placement=p) for name, p in (("1", place), ("2", None)))
    stands = place_scans((said, bare))
    assert (stands["1"].placement, stands["1"].ties_height) == (place, True)
    assert (stands["2"].placement, stands["2"].ties_height) == (Placement(), False)


def test_targets_that_place_nothing_or_contradict_each_other_are_refused() -> None:
    lone = seen_from(0.0, (0.0, 0.0, 0.0), marks="AB", known="A", id="1")
    with pytest.raises(InputRefused, match="1 targets"):
        place_scans((lone,))
    first = seen_from(0.0, (0.0, 0.0, 0.0), marks="AB", known="AB", id="1")
    other = Scan(
        id="2", sha256="", file="", targets=(Target(id="A", scanned_m=MARKS["A"], site_m=(0.1, 0.2, 1.3)),)
    )
    with pytest.raises(InputRefused, match="two places in the job, 100 mm"):
        place_scans((first, other))
