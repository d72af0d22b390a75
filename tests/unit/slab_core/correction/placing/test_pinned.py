"""A surface on pins is straight along its lines and from line to line."""

import numpy as np
import pytest

from slab_core.correction.nodes import Nodes, floor_nodes
from slab_core.correction.placing.pinned import bays_over, pinned_to, strips_over
from slab_core.numerics.grid import Floats, Mask
from tests.invented_floors import rectangle, slab


@pytest.fixture(scope="module")
def nodes() -> Nodes:
    floor = rectangle(width_m=4.0, length_m=5.0)
    return floor_nodes(floor=floor, surface=slab(floor=floor, height_m=lambda x, y: 0.0 * x, columns=40))


def fitted(nodes: Nodes, target_mm: Floats, *, firm: Mask | None = None) -> Floats:
    firm = np.zeros(len(nodes.x), dtype=np.bool_) if firm is None else firm
    part = np.flatnonzero((nodes.x > 0.8) & (nodes.x < 3.1) & (nodes.y > 1.0) & (nodes.y < 4.0))
    nowhere = np.zeros(0, dtype=np.int64)
    pinned = pinned_to(nodes=nodes, target_mm=target_mm, part=part, beside=nowhere, firm=firm, spacing_m=1.2)
    return np.asarray(pinned.height_mm[part] - target_mm[part])


def test_a_plane_is_met_exactly(nodes: Nodes) -> None:
    assert np.abs(fitted(nodes, 5.0 + 2.0 * nodes.x - nodes.y)).max() <= 1e-6


def test_a_twist_is_met_but_for_the_weight_of_straight_lines(nodes: Nodes) -> None:
    assert np.abs(fitted(nodes, 1.5 * nodes.x * nodes.y)).max() <= 1e-6


def test_a_bowl_is_missed_by_no_more_than_its_bend_between_pins(nodes: Nodes) -> None:
    bowl = (nodes.x - 2.0) ** 2 + (nodes.y - 2.5) ** 2
    # Straight over a strip of 2.3 m a bend of 2 mm a m² misses by up to 2 · 2.3² / 8 = 1.3 mm, 1.6 mm with
    # that of the pins along it, and a surface through the middle of it by less.
    assert np.abs(fitted(nodes, bowl)).max() <= 1.6


def test_two_pours_have_bays_of_their_own_over_their_own_nodes(nodes: Nodes) -> None:
    west, east = nodes.x < 1.0, nodes.x > 2.6
    pours = strips_over(nodes=nodes, poured=west | east)
    bays = bays_over(nodes=nodes, pours=pours)
    assert len(pours) == 2
    assert set(bays.of_node[west].tolist()).isdisjoint(bays.of_node[east].tolist())
    assert len({bay.number for bay in bays.bays}) == len(bays.bays)


def test_a_doorways_nodes_are_met_nearly_though_the_rest_bends(nodes: Nodes) -> None:
    """A bowl is missed by a millimetre and more; along a line of firm nodes it hardly is."""
    bowl = 3.0 * ((nodes.x - 2.0) ** 2 + (nodes.y - 2.5) ** 2)
    firm = (np.abs(nodes.y - 1.05) < 0.06) & (np.abs(nodes.x - 1.9) < 0.4)
    part = np.flatnonzero((nodes.x > 0.8) & (nodes.x < 3.1) & (nodes.y > 1.0) & (nodes.y < 4.0))
    at_door = firm[part]
    loose, held = fitted(nodes, bowl), fitted(nodes, bowl, firm=firm)
    assert at_door.sum() > 5
    assert np.abs(held[at_door]).max() < 0.5 * np.abs(loose[at_door]).max()
