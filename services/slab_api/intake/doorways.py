"""What may be done at doorways, as the core takes it."""

from slab_api.intake.reader import Path, Reader
from slab_api.schemas.doorways import DoorwaysDocument
from slab_api.schemas.options import OptionsDocument
from slab_core.correction.ramps_model import DoorWays
from slab_core.tolerance.model import Rule

AT: Path = ("options", "doorways")
LONGEST_RAMP_M = 6.0


def read_doorways(options: OptionsDocument, *, reader: Reader) -> DoorWays | None:
    """None where every threshold has to be met by the floor itself; values not given are the usual ones."""
    given = options.doorways
    if given is None:
        return None
    usual = DoorWays()
    ways = DoorWays(
        ramps=given.ramps,
        transitions=given.transitions,
        cuts=given.cuts,
        least_ramp_m=_length(given.least_ramp, usual.least_ramp_m, "least_ramp", reader=reader),
        greatest_ramp_m=_length(given.greatest_ramp, usual.greatest_ramp_m, "greatest_ramp", reader=reader),
        ramp_slope=usual.ramp_slope if given.ramp_slope is None else given.ramp_slope,
        ramp_rule=_rule(given, usual=usual.ramp_rule, reader=reader),
        ramp_ph=usual.ramp_ph if given.ramp_hours is None else given.ramp_hours,
        transition_m=_height(given.transition_takes, usual.transition_m, "transition_takes", reader=reader),
        transition_ph=usual.transition_ph if given.transition_hours is None else given.transition_hours,
        transition_price=usual.transition_price if given.transition_price is None else given.transition_price,
        cut_m=_height(given.cut_takes, usual.cut_m, "cut_takes", reader=reader),
        cut_ph=usual.cut_ph if given.cut_hours is None else given.cut_hours,
    )
    if ways.least_ramp_m > ways.greatest_ramp_m:
        detail = f"the shortest ramp, {ways.least_ramp_m:.3f} m, is longer than the longest, "
        reader.fault(f"{detail}{ways.greatest_ramp_m:.3f} m; make it shorter", (*AT, "least_ramp"))
    if ways.greatest_ramp_m > LONGEST_RAMP_M:
        reader.fault(f"a ramp is local: give at most {LONGEST_RAMP_M:g} m", (*AT, "greatest_ramp"))
    return ways


def _length(value: float | str | None, usual: float, name: str, *, reader: Reader) -> float:
    return usual if value is None else reader.positive(value, (*AT, name))


def _height(value: float | str | None, usual: float, name: str, *, reader: Reader) -> float:
    return usual if value is None else reader.positive(value, (*AT, name), vertical=True)


def _rule(given: DoorwaysDocument, *, usual: Rule, reader: Reader) -> Rule:
    rule = given.ramp_rule
    if rule is None:
        return usual
    return Rule(
        length_m=reader.positive(rule.length, (*AT, "ramp_rule", "length")),
        gap_m=reader.positive(rule.gap, (*AT, "ramp_rule", "gap"), vertical=True),
    )
