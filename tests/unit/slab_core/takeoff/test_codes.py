"""The codes that the schedule and the quote rely on."""

from slab_core.materials import starter
from slab_core.takeoff.codes import MACHINES, TASKS, price_codes


def test_every_price_code_is_named_once() -> None:
    codes = [p.code for p in price_codes(catalogue=starter.catalogue(), covering=starter.covering())]
    assert len(set(codes)) == len(codes)


def test_every_product_of_the_catalogue_is_priced_by_its_package() -> None:
    catalogue = starter.catalogue()
    priced = {p.code: p.unit for p in price_codes(catalogue=catalogue, covering=starter.covering())}
    for product in (catalogue.compound, catalogue.primer, catalogue.adhesive, *catalogue.items):
        assert priced[product.id] == product.package.unit
    assert priced[starter.covering().product] == "carton"


def test_a_task_occupies_only_machines_that_have_a_price_and_can_be_staffed() -> None:
    machines = {machine.code for machine in MACHINES}
    assert all(task.machine in machines or not task.machine for task in TASKS)
    assert all(1 <= task.least_people <= task.most_people for task in TASKS)
    assert len({task.code for task in TASKS}) == len(TASKS)
