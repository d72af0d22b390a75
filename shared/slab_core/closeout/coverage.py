"""How far primer and adhesive go: what jobs used of them beside what was needed, by product, and for primer
by the slab's porosity.

An adhesive's coverage is that of the trowel that the product is spread with.
"""

from typing import Literal

from slab_core.closeout.model import Learned, ProposedValue
from slab_core.materials.model import Catalogue
from slab_core.materials.rates_model import Spreads

Porosity = Literal["porous", "dense"]
PRIMER, ADHESIVE = "primer", "adhesive"


def coverage_code(*, code: str, product: str, porosity: Porosity) -> str:
    """What a line of such a material is learned by; "" for lines of anything else."""
    if code == PRIMER:
        return f"{PRIMER}-{porosity}/{product}"
    return f"{ADHESIVE}/{product}" if code == ADHESIVE else ""


def of_coverage(code: str) -> bool:
    """Whether a code is of a primer or an adhesive."""
    return "/" in code


def planned_use(*, code: str, catalogue: Catalogue) -> float | None:
    """Litres by the m² that the catalogue plans with; None for a product that it has no longer."""
    field = _field(code, catalogue)
    return None if field is None else 1.0 / _coverage(field, catalogue)


def coverage_sd(*, code: str, spreads: Spreads) -> float:
    """How far one job's use scatters: the product's own spread, and about as much again for the slab."""
    return 2.0 * (spreads.adhesive if code.startswith(ADHESIVE) else spreads.primer)


def propose_coverage(*, catalogue: Catalogue, learned: tuple[Learned, ...]) -> tuple[ProposedValue, ...]:
    """Coverages that foretell what was used; of products that the catalogue has."""
    fields = ((each, _field(each.code, catalogue)) for each in learned if each.jobs)
    return tuple(
        ProposedValue(
            field=field,
            before=_coverage(field, catalogue),
            after=_coverage(field, catalogue) / each.factor,
            learned=each,
        )
        for each, field in fields
        if field is not None
    )


def _field(code: str, catalogue: Catalogue) -> str | None:
    """The place of the figure in the firm's catalogue."""
    places = {
        f"{PRIMER}-porous/{catalogue.primer.id}": "primer.coverage_porous_m2_per_l",
        f"{PRIMER}-dense/{catalogue.primer.id}": "primer.coverage_dense_m2_per_l",
        f"{ADHESIVE}/{catalogue.adhesive.id}": "adhesive.coverage_m2_per_l",
    }
    return places.get(code)


def _coverage(field: str, catalogue: Catalogue) -> float:
    product, _, name = field.partition(".")
    return float(getattr(getattr(catalogue, product), name))
