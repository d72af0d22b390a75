"""From what was learned to the firm's figures."""

from dataclasses import fields, replace

import pytest

from slab_core.closeout.model import Learned
from slab_core.closeout.propose import HOURS, PER_HOUR, against, planned, propose_rates, propose_waste
from slab_core.materials import starter
from slab_core.materials.rates_model import Rates
from slab_core.takeoff.codes import TASK
from slab_core.takeoff.model import Takeoff
from tests.takeoff_jobs import whole_job

RATES = starter.rates()


def _learned(code: str, factor: float, *, jobs: int = 5) -> Learned:
    return Learned(code=code, jobs=jobs, left_out=0, factor=factor, low=factor / 1.1, high=factor * 1.1)


def _hours(taken: Takeoff, code: str) -> float:
    return sum(line.order for line in taken.lines if line.key.code == code and line.unit == "PH")


def test_every_figure_and_code_is_one_that_there_is() -> None:
    assert set(PER_HOUR) | set(HOURS) <= set(TASK)
    assert set(PER_HOUR.values()) | set(HOURS.values()) <= {field.name for field in fields(Rates)}


@pytest.mark.parametrize(
    "code", ["spread", "clean", "bond-grind", "edges", "trim", "hand-over", "prime", "survey"]
)
def test_planning_with_the_proposed_rate_foretells_the_hours_that_were_taken(code: str) -> None:
    """Set-up of machines stays what it is, so bond grinding comes within it."""
    (proposal,) = propose_rates(rates=RATES, learned=(_learned(code, 1.25),))
    before = _hours(whole_job(), code)
    after = _hours(whole_job(rates=replace(RATES, **{proposal.field: proposal.after})), code)
    assert after == pytest.approx(1.25 * before, rel=0.1 if code == "bond-grind" else 1e-6)


@pytest.mark.parametrize("code", ["clean", "hand-over", "compound"])
def test_a_figure_brought_up_to_date_is_not_corrected_for_the_same_jobs_again(code: str) -> None:
    """A job took a quarter more than planned; planned with what it proposes, it took as much as planned."""
    compound = starter.compound()
    then = planned(code=code, rates=RATES, compound=compound)
    learned = _learned(code, 1.25)
    rates, better = RATES, compound
    if code == "compound":
        waste = propose_waste(compound=compound, learned=learned)
        assert waste is not None
        better = replace(compound, waste_share=waste.after)
    else:
        (proposal,) = propose_rates(rates=RATES, learned=(learned,))
        rates = replace(RATES, **{proposal.field: proposal.after})
    now = planned(code=code, rates=rates, compound=better)
    assert against(code=code, ratio=1.25, then=then, now=then) == pytest.approx(1.25)
    assert against(code=code, ratio=1.25, then=then, now=now) == pytest.approx(1.0)


def test_nothing_is_proposed_before_a_job_or_for_what_has_no_rate_of_its_own() -> None:
    learned = (_learned("clean", 1.2, jobs=0), _learned("pour", 1.2), _learned("tear-out", 0.8))
    assert propose_rates(rates=RATES, learned=learned) == ()


def test_bags_that_were_more_by_a_tenth_become_waste() -> None:
    compound = starter.compound()
    found = propose_waste(compound=compound, learned=_learned("compound", 1.1))
    assert found is not None
    assert 1.0 + found.after == pytest.approx(1.1 * (1.0 + compound.waste_share))
    spared = propose_waste(compound=compound, learned=_learned("compound", 0.5))
    assert spared is not None
    assert spared.after == 0.0
    assert propose_waste(compound=compound, learned=_learned("compound", 1.0, jobs=0)) is None


def test_hours_of_the_machine_go_before_those_of_its_crew() -> None:
    learned = (_learned("bond-grind", 1.4), _learned("bond-grind-mh", 1.25))
    (proposal,) = propose_rates(rates=RATES, learned=learned)
    assert proposal.learned.code == "bond-grind-mh"
    assert proposal.after == pytest.approx(RATES.bond_grinding_m2_per_mh / 1.25)


def test_machine_hours_say_nothing_of_a_rate_by_the_person_hour() -> None:
    assert propose_rates(rates=RATES, learned=(_learned("undercut-mh", 1.3),)) == ()
