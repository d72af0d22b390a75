"""Which of a catalogue's products a job takes where there are several of a kind."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final, TypeVar

from slab_core.materials.model import Adhesive, Catalogue, Compound, Patch, Primer

LISTS: Final = {"compound": "compounds", "primer": "primers", "patch": "patches", "adhesive": "adhesives"}
"""The kinds of which a catalogue has a usual product, and where its further ones stand."""

Product = TypeVar("Product", Compound, Primer, Patch, Adhesive)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Ids of products, and the notch that the adhesive is spread with; empty: the usual ones."""

    compound: str = ""
    primer: str = ""
    patch: str = ""
    adhesive: str = ""
    trowel: str = ""


def with_wanted(*, catalogue: Catalogue, wanted: Wanted) -> tuple[Catalogue, tuple[tuple[str, str], ...]]:
    """The catalogue with the wanted products as its usual ones and no further ones, so that a job holds what
    it takes and nothing else; and (field of `wanted`, what is wrong and what there is) for what it lacks."""
    slips: list[tuple[str, str]] = []
    adhesive = _picked("adhesive", wanted.adhesive, catalogue.adhesive, catalogue.adhesives, slips=slips)
    chosen = replace(
        catalogue,
        compound=_picked("compound", wanted.compound, catalogue.compound, catalogue.compounds, slips=slips),
        primer=_picked("primer", wanted.primer, catalogue.primer, catalogue.primers, slips=slips),
        patch=_picked("patch", wanted.patch, catalogue.patch, catalogue.patches, slips=slips),
        adhesive=_spread(adhesive, notch=wanted.trowel, slips=slips),
        compounds=(),
        primers=(),
        patches=(),
        adhesives=(),
    )
    return chosen, tuple(slips)


def _picked(
    kind: str, id: str, usual: Product, further: tuple[Product, ...], *, slips: list[tuple[str, str]]
) -> Product:
    """The wanted one; the usual one where none is wanted, or there is no such."""
    if id in ("", usual.id):
        return usual
    for product in further:
        if product.id == id:
            return product
    there = _listed((usual.id, *(product.id for product in further)))
    slips.append((kind, f"the catalogue has no {kind} {id!r}; it has {there}"))
    return usual


def _spread(adhesive: Adhesive, *, notch: str, slips: list[tuple[str, str]]) -> Adhesive:
    """As its maker says of the trowel."""
    there = {trowel.notch: trowel for trowel in adhesive.trowels}
    plain = replace(adhesive, trowels=())
    if notch in there:
        trowel = there[notch]
        return replace(plain, coverage_m2_per_l=trowel.coverage_m2_per_l, film_m=trowel.film_m)
    if notch:
        has = f"it has {_listed(there)}" if there else "it has none, so leave this out"
        slips.append(("trowel", f"the adhesive {adhesive.id!r} has no trowel {notch!r}; {has}"))
    return plain


def _listed(there: Iterable[str]) -> str:
    return ", ".join(map(repr, there))
