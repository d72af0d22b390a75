"""What jobs really left, told in their closeouts, comes into the firm's store for the next ones."""

from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

import msgspec

from slab_app.actions.stock import add_stock
from slab_app.actor import Actor
from slab_app.errors import LeftOverTold
from slab_base.ids import new_id
from slab_core.takeoff.entries import LEFT_OVER
from slab_store.quotes import QuoteRecord
from slab_store.unit_of_work import UnitOfWork


@dataclass(frozen=True, slots=True, kw_only=True)
class JobMaterial:
    """A material of a quote as a closeout names it, and what was planned to remain of it, in words."""

    product: str
    what: str
    package: str
    planned: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOver:
    """What is left of a product when a job is done, whether it was bought or came from the store."""

    product: str
    packages: int
    opened_thousandths: int
    use_by: date | None

    def told(self) -> dict[str, Any]:
        """As a closeout keeps it."""
        return {
            "product": self.product,
            "packages": self.packages,
            "opened": self.opened_thousandths / 1000,
            "use_by": self.use_by and self.use_by.isoformat(),
        }


def materials_of(quote: QuoteRecord) -> tuple[JobMaterial, ...]:
    """Each product once, as its first line has it; of several lines each says what it leaves."""
    lines = msgspec.json.decode(quote.document)["quote"]["lines"]
    found: dict[str, JobMaterial] = {}
    for line in lines:
        planned = line["trace"]["inputs"].get(LEFT_OVER)
        product = line["key"]["product"]
        if line["kind"] != "material" or planned is None:
            continue
        before = found.get(product)
        found[product] = JobMaterial(
            product=product,
            what=before.what if before else line["what"],
            package=before.package if before else line["unit"],
            planned=f"{before.planned}; {planned}" if before else planned,
        )
    return tuple(found.values())


def told_before(uow: UnitOfWork, *, quote: UUID, left_over: tuple[LeftOver, ...]) -> bool:
    """Whether an earlier closeout of the quote told just this. Raises LeftOverTold when it told otherwise:
    that is in the store, and others may have taken of it."""
    uow.stock.lock()
    earlier = [
        one for one in uow.closeouts.of_quote(quote=quote) if one.document.get("left_over") is not None
    ]
    if not earlier:
        return False
    if earlier[0].document["left_over"] == [one.told() for one in left_over]:
        return True
    entries = ", ".join(f"/v1/stock/{id}" for id in uow.stock.of_closeout(closeout=earlier[0].id))
    raise LeftOverTold(
        f"closeout {earlier[0].id} told what was left of this job: correct the entries of the store "
        f"({entries or 'it told that nothing was left: post what came in'}), and leave left_over out"
    )


def bring_in(
    uow: UnitOfWork, actor: Actor, *, closeout: UUID, quote: UUID, left_over: tuple[LeftOver, ...]
) -> None:
    """An entry of the store for each."""
    for one in left_over:
        add_stock(
            uow,
            actor,
            id=new_id(),
            product=one.product,
            packages=one.packages,
            opened_thousandths=one.opened_thousandths,
            use_by=one.use_by,
            closeout=closeout,
            quote=quote,
        )
