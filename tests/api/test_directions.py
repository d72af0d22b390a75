"""What each direction of the boards costs, as a client reads it."""

from decimal import Decimal

from tests.support.api import Firm, valid_job
from tests.support.own_worker import OwnWorker


def test_a_quote_prices_the_directions_that_the_layout_tried_and_customers_do_not_see_it(
    owner: Firm, worker: OwnWorker
) -> None:
    path = owner.post("/v1/estimates", valid_job()).headers["location"]
    worker.work_off()
    layout = owner.client.get(f"{path}/layout").json()["result"]
    takeoff = owner.client.get(f"{path}/takeoff").json()["result"]
    quote = owner.client.get(f"{path}/quote").json()["result"]
    (orders,), (floor,) = takeoff["directions"], quote["directions"]
    tried = [choice["direction_deg"] for choice in layout["directions"]]
    assert len(tried) == 2
    for told in (orders, floor):
        assert (told["floor"], told["chosen_by"]) == (layout["floor_id"], layout["chosen_by"])
        assert [choice["direction_deg"] for choice in told["choices"]] == tried
    (boards,) = [line for line in quote["lines"] if line["key"]["code"] == "boards"]
    assert floor["choices"][0]["boards_cost"] == boards["cost"]
    assert floor["choices"][0]["more_price"] == {"amount": "0.00", "currency": "USD"}
    for order, choice in zip(orders["choices"], floor["choices"], strict=True):
        cost = Decimal(choice["cartons"]) * Decimal(boards["unit_cost"]["amount"])
        assert Decimal(choice["cartons"]) == Decimal(order["order"])
        assert Decimal(choice["boards_cost"]["amount"]) == cost.quantize(Decimal("0.01"))
        assert choice["more_cost"]["currency"] == "USD"

    (record,) = owner.client.get(path).json()["links"]["quotes"]
    link = owner.post(f"{record}/send", {"valid_until": quote["expires"]}).json()["link"]
    offer = owner.client.get(link).json()
    assert offer["total"] == quote["total"]
    assert "directions" not in offer
