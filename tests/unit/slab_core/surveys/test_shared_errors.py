"""Setups whose heights are not quite known: what they add to their readings, all alike."""

import numpy as np
import pytest

from slab_core.rooms.model import Rooms
from slab_core.surveys.model import Benchmark, Readings, Setup, Sight, Survey
from slab_core.surveys.network import adjust
from slab_core.surveys.observe import observations
from slab_core.surveys.shared_errors import setup_errors
from tests.slabs import rectangle


def test_the_setup_with_most_readings_is_the_floors_own_datum_and_the_others_are_off_from_it() -> None:
    setup, sd = np.array([1, 1, 1, 0, 0, 2]), np.array([0.0006, 0.0008, 0.0])
    columns, numbers = setup_errors(setup=setup, sd_m=sd)
    assert columns.shape == (6, 2)
    assert numbers.tolist() == [0, 2]
    assert columns[:, 0].tolist() == pytest.approx([0, 0, 0, 0.001, 0.001, 0])
    assert columns[:, 1].tolist() == pytest.approx([0, 0, 0, 0, 0, 0.0008])


def test_beside_heights_above_the_datum_every_setup_may_be_off() -> None:
    columns, _ = setup_errors(setup=np.array([-1, 0, 0]), sd_m=np.array([0.0007]))
    assert columns.tolist() == [[0.0], [0.0007], [0.0007]]


def test_one_setup_alone_and_setups_that_are_exact_share_nothing() -> None:
    assert setup_errors(setup=np.zeros(4, dtype=np.int64), sd_m=np.array([0.002]))[0].shape == (4, 0)
    assert setup_errors(setup=np.array([0, 1]), sd_m=np.zeros(2))[0].shape == (2, 0)
    assert setup_errors(setup=np.array([-1, -1]), sd_m=np.zeros(0))[0].shape == (2, 0)


def test_rod_readings_from_two_tied_setups_carry_what_the_network_leaves_open() -> None:
    floor = rectangle(4.0, 3.0)
    rng = np.random.default_rng(1)
    x, y, setup = rng.uniform(0.2, 3.8, 12), rng.uniform(0.2, 2.8, 12), np.array([0] * 7 + [1] * 5)
    block = Readings(
        kind="rod",
        x_m=x,
        y_m=y,
        value_m=np.where(setup == 0, 1.4, 1.45),
        setup=setup.astype(np.int32),
        sd_m=np.full(12, 0.0007),
        position_sd_m=np.zeros(12),
    )
    survey = Survey(
        id="s",
        setups=(Setup(id="a", sd_m=0.0006), Setup(id="b", sd_m=0.0008)),
        sights=(Sight(setup="a", target="sill", rod_m=1.2), Sight(setup="b", target="sill", rod_m=1.25)),
        readings=(block,),
    )
    network = adjust(
        rooms=Rooms(floors=(floor,)), benchmarks=(Benchmark(id="sill", elevation_m=0.0),), surveys=(survey,)
    )
    seen = observations(floor=floor, surveys=(survey,), network=network)
    assert seen.shared_m.shape == (12, 1)
    assert seen.shared_by == ("/surveys/0/setups/1",)
    assert seen.shared_m[:, 0].tolist() == pytest.approx([0.0] * 7 + [0.001] * 5, abs=2e-6)
