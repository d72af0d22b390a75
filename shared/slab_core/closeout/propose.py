"""From what was learned to the firm's own figures: which of them each kind of work was planned with."""

from slab_core.closeout.model import Learned, ProposedValue
from slab_core.materials.model import Compound
from slab_core.materials.rates_model import Rates

PER_HOUR = {
    "base-off": "base_off_m_per_ph",
    "survey": "survey_readings_per_ph",
    "grind": "grinder_m3_per_mh",
    "hand-grind": "hand_grinder_m3_per_mh",
    "bond-grind": "bond_grinding_m2_per_mh",
    "edge-grind": "edge_grinding_m_per_mh",
    "pins": "pins_per_ph",
    "prime": "prime_m2_per_ph",
    "edges": "border_m_per_ph",
    "polish": "polish_m2_per_mh",
    "verify": "verify_m2_per_ph",
    "undercut": "undercut_m_per_ph",
    "casing-legs": "casing_legs_per_ph",
    "pre-cut": "pre_cut_m2_per_ph",
    "spread": "lay_m2_per_ph",
    "transitions": "transition_m_per_ph",
    "trim": "base_on_m_per_ph",
    "carpet-edge": "carpet_edge_m_per_ph",
    "clean": "clean_m2_per_ph",
}
"""Work whose hours are a quantity over one rate: hours that are more by a factor mean a rate that is less.
Those of pre-cutting have cuts beyond the usual in them, which on the average of jobs are none."""

HOURS = {
    "containment": "containment_ph",
    "finish": "finish_ph_per_m2",
    "hand-over": "hand_over_ph",
    "moisture-test": "moisture_test_ph",
    "furniture-out": "furniture_ph_per_room",
    "furniture-in": "furniture_ph_per_room",
}
"""Work whose hours are the figure itself, or so many times it."""

COMPOUND = "compound"
MACHINE = "-mh"
"""Behind a code: the hours of the task's own machine, not of people."""


def planned(*, code: str, rates: Rates, compound: Compound) -> float | None:
    """The figure that a kind of work or material was planned with; None where there is not one alone."""
    if code == COMPOUND:
        return 1.0 + compound.waste_share
    field = _field(code)
    return None if field is None else float(getattr(rates, field))


def against(*, code: str, ratio: float, then: float | None, now: float | None) -> float:
    """The ratio of actual to estimated, had the job been planned with the figure of now: one that was brought
    up to date is not corrected for the same jobs again."""
    if then is None or now is None:
        return ratio
    return ratio * now / then if code.removesuffix(MACHINE) in PER_HOUR else ratio * then / now


def propose_rates(*, rates: Rates, learned: tuple[Learned, ...]) -> tuple[ProposedValue, ...]:
    """New values of the rates that jobs have told of; a machine's own hours go before its crew's. Pours,
    whose hours are days' set-up and placing in one, and tear-out, whose rate goes by what is taken up, are
    compared and not proposed."""
    found: dict[str, ProposedValue] = {}
    for each in sorted(learned, key=lambda one: not one.code.endswith(MACHINE)):
        field = _field(each.code)
        if field is None or each.jobs == 0 or field in found:
            continue
        before = float(getattr(rates, field))
        per_hour = each.code.removesuffix(MACHINE) in PER_HOUR
        after = before / each.factor if per_hour else before * each.factor
        found[field] = ProposedValue(field=field, before=before, after=after, learned=each)
    return tuple(found.values())


def _field(code: str) -> str | None:
    """The rate behind a kind of work; machine-hours tell of rates by the machine-hour alone."""
    if not code.endswith(MACHINE):
        return PER_HOUR.get(code) or HOURS.get(code)
    field = PER_HOUR.get(code.removesuffix(MACHINE))
    return field if field is not None and field.endswith("_per_mh") else None


def propose_waste(*, compound: Compound, learned: Learned) -> ProposedValue | None:
    """The compound's waste that makes the estimated bags those that were used; None before any job, and none
    that would be less than nothing."""
    if learned.jobs == 0:
        return None
    after = max(0.0, (1.0 + compound.waste_share) * learned.factor - 1.0)
    return ProposedValue(
        field="compound.waste_share", before=compound.waste_share, after=after, learned=learned
    )
