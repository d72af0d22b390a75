"""Rules that the survey can neither say to be kept nor to be broken: why, and where to measure."""

from dataclasses import replace

from slab_core.errors import Problem
from slab_core.rooms.distances import said_place
from slab_core.rooms.model import Floor
from slab_core.surface.model import Surface
from slab_core.tolerance.model import Chance, RuleReport, Verdict
from slab_core.tolerance.proof import TOLD_SDS, Unread, least_read, reach_m, reading_sds_m, shown_to_fail
from slab_core.tolerance.said import edge, nearest
from slab_core.units.display import in_both


def proven_only(
    reports: tuple[RuleReport, ...], *, floor: Floor, surface: Surface
) -> tuple[tuple[RuleReport, ...], tuple[Problem, ...]]:
    """The reports without a pass or a fail that the readings do not prove, and a problem for each rule that
    is so left open: `pass-not-proven` where the fitted floor keeps it, else `fail-not-proven`."""
    shown: list[RuleReport] = []
    problems: list[Problem] = []
    lacks = _lacks(reports, floor=floor, surface=surface)
    for report, lack in zip(reports, lacks, strict=True):
        chance = report.chance
        if chance is not None:
            chance = replace(chance, verdict=_verdict(report, chance=chance, lack=lack, surface=surface))
            if chance.verdict == "measure-more":
                problems.append(_problem(report, why=lack or _doubtful(report, chance=chance, floor=floor)))
        shown.append(replace(report, chance=chance))
    return tuple(shown), tuple(problems)


def _verdict(report: RuleReport, *, chance: Chance, lack: str, surface: Surface) -> Verdict:
    """The largest of many noisy departures is biased upwards, so draws alone prove no fail: the fitted floor
    must break the rule, and where the readings cannot prove it, by more than they leave unsure."""
    if chance.verdict == "pass":
        return "measure-more" if lack else "pass"
    if chance.verdict == "measure-more" or report.passes:
        return "measure-more"
    shown = not lack or shown_to_fail(report.worst, gap_m=report.rule.gap_m, surface=surface)
    return "fail" if shown else "measure-more"


def _problem(report: RuleReport, *, why: str) -> Problem:
    said = "pass" if report.passes else "fail"
    detail = f"{why} before the floor is said to {said}"
    return Problem(code=f"{said}-not-proven", detail=detail, pointer="/surveys")


def _lacks(reports: tuple[RuleReport, ...], *, floor: Floor, surface: Surface) -> tuple[str, ...]:
    """What keeps the readings from proving each rule; nothing of a floor that is known without any."""
    if not (surface.inside.any() and surface.error.any()):
        return ("",) * len(reports)
    told = TOLD_SDS * reading_sds_m(surface)
    open_places: dict[bytes, tuple[Unread, ...]] = {}
    found = []
    for report in reports:
        counts = told <= report.rule.gap_m
        if not counts.any():
            found.append(_rough(report, finest_m=float(told.min())))
            continue
        key = counts.tobytes()
        if key not in open_places:
            open_places[key] = least_read(floor=floor, surface=surface, counts=counts)
        within = reach_m(report.used_length_m)
        place = next((place for place in open_places[key] if place.away_m > within), None)
        found.append(_unread(report, place=place, floor=floor) if place else "")
    return tuple(found)


def _rough(report: RuleReport, *, finest_m: float) -> str:
    return (
        f"readings by this instrument tell a departure from {edge(report.used_length_m)} only to "
        f"±{in_both(finest_m)}, and {in_both(report.rule.gap_m)} is allowed: measure the floor with a "
        "finer one"
    )


def _unread(report: RuleReport, *, place: Unread, floor: Floor) -> str:
    where = said_place(floor=floor, at=place.at)
    if place.joint:
        where += f", on that side of joint “{place.joint}”,"
    fine = f"reading that is fine enough for {in_both(report.rule.gap_m)} under {edge(report.used_length_m)}"
    return f"{where} {nearest(fine, away_m=place.away_m)}, so the floor there may be anything: measure there"


def _doubtful(report: RuleReport, *, chance: Chance, floor: Floor) -> str:
    places = chance.places or report.worst
    where = f", first {said_place(floor=floor, at=places[0].at)}," if places else ""
    return (
        f"the fitted floor departs {in_both(report.largest_m)} from {edge(report.used_length_m)}, where "
        f"{in_both(report.rule.gap_m)} is allowed{_share(report)}, but by what these readings leave unsure "
        f"it is {in_both(chance.largest_low_m)} to {in_both(chance.largest_high_m)} and passes with a chance "
        f"of {chance.probability:.0%}: measure more closely or with a finer instrument{where}"
    )


def _share(report: RuleReport) -> str:
    return "" if report.rule.share == 1.0 else f" under {report.rule.share:.0%} of its lays"
