"""The cost of not knowing the bags, against simulated needs."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.correction.shortage import expected_loss
from slab_core.correction.unit_costs import UnitCosts, unit_costs
from slab_core.materials import starter

BAG = starter.planning_costs().compound_per_bag


def _costs() -> UnitCosts:
    return unit_costs(
        rates=starter.rates(),
        planning=starter.planning_costs(),
        compound=starter.compound(),
        hardness="ordinary",
    )


def test_no_number_of_spare_bags_does_better_in_simulated_needs() -> None:
    costs, sd = _costs(), 2.0
    need = np.random.default_rng(1).normal(0.0, sd, 200_000)
    simulated = [
        BAG * np.maximum(spare - need, 0.0).mean() + costs.per_pour_day * (need > spare).mean()
        for spare in np.linspace(0.0, 4.0 * sd, 81)
    ]
    assert expected_loss(bags_sd=sd, spare_bag=BAG, costs=costs) == pytest.approx(min(simulated), rel=0.01)


def test_what_is_known_exactly_costs_nothing() -> None:
    assert expected_loss(bags_sd=0.0, spare_bag=BAG, costs=_costs()) == 0.0


@given(st.floats(0.01, 20.0), st.floats(1.01, 3.0))
def test_a_greater_doubt_costs_more_but_never_more_than_in_proportion(sd: float, times: float) -> None:
    less = expected_loss(bags_sd=sd, spare_bag=BAG, costs=_costs())
    more = expected_loss(bags_sd=times * sd, spare_bag=BAG, costs=_costs())
    assert less < more <= times * less + 1e-9


def test_a_dearer_lost_day_costs_more() -> None:
    costs = _costs()
    dearer = replace(costs, per_pour_day=3.0 * costs.per_pour_day)
    assert expected_loss(bags_sd=1.0, spare_bag=BAG, costs=dearer) > expected_loss(
        bags_sd=1.0, spare_bag=BAG, costs=costs
    )
