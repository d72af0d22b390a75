"""Where each scan of a job stands, from what is known before any file is read."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from slab_core.errors import refuse
from slab_core.scans.model import Place, Placement, Scan
from slab_core.scans.register import LARGEST_RESIDUAL_M, Registration, place_by_targets, placed


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A scan's placement. `ties_height`: its heights are above the datum, as something outside it says."""

    placement: Placement
    registration: Registration | None = None
    ties_height: bool = False


def place_scans(scans: tuple[Scan, ...]) -> dict[str, Stand]:
    """A stand for each scan by its id.

    Scans with targets are placed by those whose place in the job is known; the targets of a placed scan are
    known for the others. Where no target's place is known, the first scan that has targets is the job's own
    frame. A scan without targets stands as its placement says, or in the job's own coordinates.

    Raises
    ------
    InputRefused
        when targets do not place a scan, or contradict each other; the scan and the target are named.
    """
    stands = {scan.id: _without_targets(scan) for scan in scans if not scan.targets}
    left = [scan for scan in scans if scan.targets]
    known = _known(left)
    if left and not known:
        first = left.pop(0)
        stands[first.id] = Stand(placement=Placement())
        known = _seen(first)
    while left:
        scan = max(left, key=lambda scan: len(_seen(scan).keys() & known.keys()))
        left.remove(scan)
        found = place_by_targets(scanned=_seen(scan), known=known)
        stands[scan.id] = Stand(placement=found.placement, registration=found, ties_height=True)
        known = {**_moved(scan, found.placement), **known}
    return stands


def _without_targets(scan: Scan) -> Stand:
    if scan.placement is None:
        return Stand(placement=Placement())
    return Stand(placement=scan.placement, ties_height=True)


def _seen(scan: Scan) -> dict[str, Place]:
    return {target.id: target.scanned_m for target in scan.targets}


def _moved(scan: Scan, placement: Placement) -> dict[str, Place]:
    there = placed(points=np.array([target.scanned_m for target in scan.targets]), placement=placement)
    return {target.id: (x, y, z) for target, (x, y, z) in zip(scan.targets, there.tolist(), strict=True)}


def _known(scans: Iterable[Scan]) -> dict[str, Place]:
    """Places in the job, as the scans' targets say them. Raises InputRefused where two say otherwise."""
    known: dict[str, Place] = {}
    for target in (target for scan in scans for target in scan.targets):
        if target.site_m is None:
            continue
        before = known.setdefault(target.id, target.site_m)
        apart = float(np.linalg.norm(np.subtract(before, target.site_m)))
        if apart > LARGEST_RESIDUAL_M:
            detail = f"Target {target.id!r} has two places in the job, {apart * 1000:.0f} mm apart."
            raise refuse(code="scan-targets-disagree", detail=f"{detail} Give a mark one place.")
    return known
