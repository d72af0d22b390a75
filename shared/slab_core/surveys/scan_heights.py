"""The height of each scan, as one unknown that targets, readings by level and other scans decide together."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import combinations
from math import hypot, sqrt

import numpy as np

from slab_core.errors import InputRefused, Problem
from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Rooms
from slab_core.rooms.wording import length
from slab_core.scans.blocks import alike
from slab_core.scans.model import ReducedScan, Scan, ScanHeight, ScanOverlap
from slab_core.scans.place import Stand
from slab_core.scans.register import overlap
from slab_core.surveys.agreement import ALLOWED_SD
from slab_core.surveys.leveling import Difference, Node, adjust_differences, components
from slab_core.surveys.model import Network, Observations, Survey
from slab_core.surveys.observe import observations
from slab_core.surveys.scan_compare import Compared, compare, without_misreads

_HEIGHT_DIGITS = 6
ENOUGH_READINGS = 10
"""The scatter of so many readings is known to a quarter of itself; fewer say too little of a scan's bias."""

LEAST_OVERLAP_SD_M = 0.0001

StillTells = Callable[[int, str, Observations], Observations]
"""Of a floor's readings those that tell the slab as a survey's scans saw it, by the survey's number and the
floor's id."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Tie:
    """What decides one scan's height."""

    scan: Scan
    pointer: str
    reduced: ReducedScan
    prior_sd_m: float | None
    compared: Compared


def adjust_scans(
    *,
    rooms: Rooms,
    surveys: tuple[Survey, ...],
    network: Network,
    stands: Mapping[str, Stand],
    reduced: tuple[ReducedScan, ...],
    still_tells: StillTells | None = None,
) -> Network:
    """The network with the scans' heights and what is to say about them.

    Each scan is moved up or down as a whole. Its targets' heights (or its stated place) are sure to its bias;
    each reading by level that lies where the scan shows the floor says how far it is off, to the accuracy of
    the reading and the bias, but for those that `still_tells` leaves out, as where work was done between;
    where two scans show the same floor they are to meet. A scan that nothing ties is the datum, but refused
    in work that goes on (`still_tells`), whose plan has heights already. A network that is refused, whose
    readings have no heights, is left as it is.
    """
    if any(problem.severity == "refusal" for problem in network.problems):
        return network
    ties = _ties(
        rooms=rooms, surveys=surveys, network=network, stands=stands, reduced=reduced, still_tells=still_tells
    )
    overlaps = _overlaps(ties)
    adjusted, datums = _solve(ties, overlaps)
    heights = tuple(_height(tie, overlaps, adjusted[tie.scan.id]) for tie in ties)
    found = [problem for tie, height in zip(ties, heights, strict=True) for problem in _said(tie, height)]
    untied = _datum if still_tells is None else _untied
    found += [untied(tie) for tie in ties if tie.scan.id in datums]
    found += _steps(ties, heights, overlaps)
    found += _repeated(ties)
    return replace(network, scans=heights, problems=(*network.problems, *found))


def scans_of(surveys: tuple[Survey, ...]) -> tuple[tuple[Scan, str], ...]:
    """Every scan with the pointer to it, in order."""
    return tuple(
        (scan, f"/surveys/{i}/scans/{k}")
        for i, survey in enumerate(surveys)
        for k, scan in enumerate(survey.scans)
    )


def _ties(
    *,
    rooms: Rooms,
    surveys: tuple[Survey, ...],
    network: Network,
    stands: Mapping[str, Stand],
    reduced: tuple[ReducedScan, ...],
    still_tells: StillTells | None,
) -> tuple[_Tie, ...]:
    results = {each.scan: each for each in reduced}
    seen = {floor.id: observations(floor=floor, surveys=surveys, network=network) for floor in rooms.floors}
    # Without a benchmark the level's line of sight is the datum: another than that of the targets.
    own_datum = any(problem.code == "datum-from-setup" for problem in network.problems)
    ties = []
    for scan, pointer in scans_of(surveys):
        parts = []
        for floor in results[scan.id].floors:
            told = seen[floor.floor_id]
            if still_tells is not None:
                told = still_tells(int(pointer.split("/")[2]), floor.floor_id, told)
            parts.append(compare(seen=told, blocks=floor.blocks))
        compared = Compared(
            difference_m=np.concatenate([part.difference_m for part in parts]),
            reading_sd_m=np.concatenate([part.reading_sd_m for part in parts]),
        )
        tied = stands[scan.id].ties_height and not own_datum
        ties.append(
            _Tie(
                scan=scan,
                pointer=pointer,
                reduced=results[scan.id],
                prior_sd_m=hypot(scan.bias_sd_m, results[scan.id].target_rms_m or 0.0) if tied else None,
                compared=without_misreads(compared, bias_m=scan.bias_sd_m),
            )
        )
    return tuple(ties)


def _overlaps(ties: tuple[_Tie, ...]) -> dict[tuple[str, str], tuple[ScanOverlap, ...]]:
    """By the ids of two scans, how the second differs from the first on each floor that both show well."""
    found = {}
    for one, other in combinations(ties, 2):
        floors = {floor.floor_id: floor.blocks for floor in one.reduced.floors}
        both = []
        for floor in other.reduced.floors:
            if floor.floor_id not in floors:
                continue
            try:
                first, second = alike(floors[floor.floor_id], floor.blocks)
                met = overlap(first=first, second=second)
            except InputRefused:
                continue  # they share too little to be compared, which is no fault
            both.append(
                ScanOverlap(
                    scan=other.scan.id,
                    floor_id=floor.floor_id,
                    cells=met.cells,
                    offset_m=met.offset_m,
                    tilt_x=met.tilt_x,
                    tilt_y=met.tilt_y,
                    rms_m=met.rms_m,
                )
            )
        if both:
            found[(one.scan.id, other.scan.id)] = tuple(both)
    return found


def _solve(
    ties: tuple[_Tie, ...], overlaps: Mapping[tuple[str, str], tuple[ScanOverlap, ...]]
) -> tuple[dict[str, tuple[float, float]], set[str]]:
    """Offset and its standard deviation by scan, and the scans that are the datum, as nothing ties them."""
    nodes: dict[str, Node] = {tie.scan.id: ("scan", tie.scan.id) for tie in ties}
    absolute = {tie.scan.id: _absolute(tie, nodes[tie.scan.id]) for tie in ties}
    links = [(nodes[one], nodes[other]) for one, other in overlaps]
    groups = components(links=[*links, *((node, node) for node in nodes.values())])
    known: dict[Node, float] = {}
    datums = set()
    for group in groups:
        members = [tie.scan.id for tie in ties if nodes[tie.scan.id] in group]
        if not any(absolute[member] for member in members):
            known[nodes[members[0]]] = 0.0
            datums.add(members[0])
    differences = [difference for each in absolute.values() for difference in each]
    differences += [
        Difference(
            upper=nodes[one],
            lower=nodes[other],
            value_m=met.offset_m,
            sd_m=max(met.rms_m, LEAST_OVERLAP_SD_M),
        )
        for (one, other), both in overlaps.items()
        for met in both
    ]
    if not differences:
        return dict.fromkeys(nodes, (0.0, 0.0)), datums
    adjusted = adjust_differences(differences=tuple(differences), known=known)
    return {id_: (adjusted.height_m[node], adjusted.sd_m[node]) for id_, node in nodes.items()}, datums


def _absolute(tie: _Tie, node: Node) -> list[Difference]:
    found = [
        Difference(upper=node, lower=None, value_m=value, sd_m=hypot(sd, tie.scan.bias_sd_m))
        for value, sd in zip(
            tie.compared.difference_m.tolist(), tie.compared.reading_sd_m.tolist(), strict=True
        )
    ]
    if tie.prior_sd_m is not None:
        found.append(Difference(upper=node, lower=None, value_m=0.0, sd_m=tie.prior_sd_m))
    return found


def _height(
    tie: _Tie,
    overlaps: Mapping[tuple[str, str], tuple[ScanOverlap, ...]],
    solved: tuple[float, float],
) -> ScanHeight:
    offset, sd = solved
    rest = tie.compared.difference_m - offset
    count = len(rest)
    return ScanHeight(
        scan=tie.scan.id,
        offset_m=round(offset, _HEIGHT_DIGITS) + 0.0,
        sd_m=round(sd, _HEIGHT_DIGITS),
        bias_m=round(_bias(tie, rest, sd_m=sd), _HEIGHT_DIGITS),
        readings=count,
        readings_rms_m=round(sqrt(float(np.mean(rest**2))), _HEIGHT_DIGITS) if count else None,
        target_rms_m=tie.reduced.target_rms_m,
        overlaps=tuple(met for (one, _), both in overlaps.items() if one == tie.scan.id for met in both),
    )


def _bias(tie: _Tie, rest: Floats, *, sd_m: float) -> float:
    """Stated, until enough readings show it: their scatter, less their own, and never below the offset's."""
    if len(rest) < ENOUGH_READINGS:
        return tie.scan.bias_sd_m
    scatter = float(np.sum(rest**2)) / (len(rest) - 1) - float(np.mean(tie.compared.reading_sd_m**2))
    return max(sd_m, sqrt(max(0.0, scatter)))


def _said(tie: _Tie, height: ScanHeight) -> list[Problem]:
    """A finding when targets and readings contradict each other, beyond what chance does once in 1,000."""
    if tie.prior_sd_m is None or abs(height.offset_m) <= ALLOWED_SD * tie.prior_sd_m:
        return []
    off, allowed = length(abs(height.offset_m)), length(ALLOWED_SD * tie.prior_sd_m)
    side = "below" if height.offset_m > 0 else "above"
    detail = (
        f"scan “{tie.scan.id}” lies {off} {side} what the levels and the other scans say, where its targets "
        f"allow {allowed} (99.9 %); it was moved as a whole: check the heights of its targets"
    )
    return [Problem(code="scan-height-moved", detail=detail, pointer=tie.pointer)]


def _datum(tie: _Tie) -> Problem:
    detail = (
        f"nothing ties the height of scan “{tie.scan.id}”: heights are counted as in its file, and "
        "thresholds must be too; give targets with their heights, or readings by level"
    )
    return Problem(code="scan-is-datum", detail=detail, pointer=tie.pointer)


def _untied(tie: _Tie) -> Problem:
    detail = (
        f"nothing ties the height of scan “{tie.scan.id}” to the plan that is followed: no reading by level "
        "lies where it shows the floor and nothing was done between the two; give targets with their "
        "heights, or some readings by level, taken when it was, in its survey"
    )
    return Problem(code="scan-untied", detail=detail, pointer=tie.pointer, severity="refusal")


def _repeated(ties: tuple[_Tie, ...]) -> list[Problem]:
    """A finding for each file that was sent before as another scan."""
    first: dict[str, str] = {}
    found = []
    for tie in ties:
        if first.setdefault(tie.scan.sha256, tie.scan.id) != tie.scan.id:
            detail = (
                f"scan “{tie.scan.id}” is the same file as scan “{first[tie.scan.sha256]}”; both are used: "
                "if it was sent twice, leave one out"
            )
            found.append(Problem(code="scan-repeated", detail=detail, pointer=tie.pointer))
    return found


def _steps(
    ties: tuple[_Tie, ...],
    heights: tuple[ScanHeight, ...],
    overlaps: Mapping[tuple[str, str], tuple[ScanOverlap, ...]],
) -> list[Problem]:
    """A finding for two scans that still do not meet where both show the floor."""
    offset = {height.scan: height.offset_m for height in heights}
    by_id = {tie.scan.id: tie for tie in ties}
    found = []
    for (one, other), both in overlaps.items():
        allowed = ALLOWED_SD * hypot(by_id[one].scan.bias_sd_m, by_id[other].scan.bias_sd_m)
        for met in both:
            step = met.offset_m + offset[other] - offset[one]
            if max(abs(step), met.rms_m) > allowed:
                detail = (
                    f"scans “{one}” and “{other}” differ by {length(abs(step))} in the mean where both "
                    f"show floor “{met.floor_id}” (and by {length(met.rms_m)} about that), where their bias "
                    f"allows {length(allowed)}: check their targets and that both were level"
                )
                found.append(Problem(code="scans-disagree", detail=detail, pointer=by_id[other].pointer))
    return found
