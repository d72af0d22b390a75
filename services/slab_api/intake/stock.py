"""Checks of what is said of the firm's store."""

from slab_api.intake.firm import as_model, starter_catalogue
from slab_api.problems import invalid
from slab_api.schemas.stock import LeftOverDocument, StockCorrection, StockPost
from slab_app.actions.firm_versions import newest_version
from slab_app.actor import Actor
from slab_app.errors import Fault
from slab_core.materials.model import Catalogue
from slab_store.stock import StockEntry
from slab_store.unit_of_work import UnitOfWork

_MOST = 1_000_000
_NOTHING = "this is nothing; give packages, opened, or both"


def check_stock(uow: UnitOfWork, actor: Actor, posted: StockPost) -> None:
    """Raises ApiProblem for stock of nothing, and for a product that no job could ask for."""
    faults = [] if posted.packages or posted.opened else [Fault(detail=_NOTHING, pointer="/packages")]
    known = newest_catalogue(uow, actor).product_ids()
    if not posted.covering and posted.product not in known:
        detail = (
            f"{posted.product!r} is no product of the newest catalogue, which has {', '.join(known)}; boards "
            "are posted with covering: true"
        )
        faults.append(Fault(detail=detail, pointer="/product"))
    if faults:
        raise invalid(tuple(faults))


def check_correction(posted: StockCorrection, *, entry: StockEntry) -> None:
    """Raises ApiProblem for one that corrects nothing, or to more than any store holds."""
    faults = [] if posted.packages or posted.opened else [Fault(detail=_NOTHING, pointer="/packages")]
    sums = {
        "/packages": entry.packages + posted.packages,
        "/opened": entry.opened_thousandths / 1000 + float(posted.opened),
    }
    faults += [
        Fault(detail=f"this would make {after:g} of them: an entry has at most {_MOST:,}", pointer=pointer)
        for pointer, after in sums.items()
        if after > _MOST
    ]
    if faults:
        raise invalid(tuple(faults))


def check_left_over(told: tuple[LeftOverDocument, ...], *, products: tuple[str, ...]) -> None:
    """Raises ApiProblem for what the job has no such material of, and for nothing of something."""
    faults = []
    for place, one in enumerate(told):
        if one.product not in products:
            detail = f"this job has no material {one.product!r}; it has {', '.join(products)}"
            faults.append(Fault(detail=detail, pointer=f"/left_over/{place}/product"))
        if not one.packages and not one.opened:
            faults.append(Fault(detail=_NOTHING, pointer=f"/left_over/{place}"))
    if faults:
        raise invalid(tuple(faults))


def newest_catalogue(uow: UnitOfWork, actor: Actor) -> Catalogue:
    """The firm's, or the starter's if it has none."""
    newest = newest_version(uow, actor, kind="catalogue")
    if newest is None:
        return starter_catalogue()
    model = as_model("catalogue", newest.document, version=str(newest.id))
    assert isinstance(model, Catalogue)
    return model
