"""What a catalogue cannot say, though each field alone could be."""

from collections.abc import Iterator

from slab_app.errors import Fault
from slab_core.materials.choice import LISTS
from slab_core.materials.model import Adhesive, Catalogue, Compound, Patch, Primer
from slab_core.materials.wood_limits_model import wood_limit_slips

Product = Compound | Primer | Patch | Adhesive

_TRIM = ("transition", "base")
_SHORTEST_STICK_M = 0.3


def catalogue_faults(catalogue: Catalogue) -> list[Fault]:
    """What is wrong with it, each at its place."""
    sizes = {
        **{
            f"{place}/{field}": value
            for place, product in _products(catalogue)
            for field, value in _divisors(product).items()
        },
        **{f"/items/{i}/package/size": item.package.size for i, item in enumerate(catalogue.items)},
    }
    faults = _limit_faults(catalogue) + _lift_faults(catalogue)
    faults += [
        Fault(detail=detail, pointer=f"/wood_limits/{field}")
        for field, detail in wood_limit_slips(catalogue.wood_limits)
    ]
    faults += [
        Fault(detail="this has to be more than 0", pointer=where)
        for where, size in sizes.items()
        if size <= 0
    ]
    faults += [
        Fault(
            detail=f"a stick of trim is at least {_SHORTEST_STICK_M:g} m", pointer=f"/items/{i}/package/size"
        )
        for i, item in enumerate(catalogue.items)
        if item.kind in _TRIM and 0 < item.package.size < _SHORTEST_STICK_M
    ]
    own = {item.id for item in catalogue.items if not item.other_length_of}
    return faults + [
        Fault(
            detail=f"{item.other_length_of!r} is no item of this catalogue that stands for itself",
            pointer=f"/items/{i}/other_length_of",
        )
        for i, item in enumerate(catalogue.items)
        if item.other_length_of and item.other_length_of not in own
    ]


def _limit_faults(catalogue: Catalogue) -> list[Fault]:
    """Limits of the slab that no slab keeps are a slip: every job would be held."""
    ranges = (
        ("least_ph", "most_ph", "slab"),
        ("least_temperature_c", "most_temperature_c", "slab"),
        ("least_air_temperature_c", "most_air_temperature_c", "air"),
        ("least_air_humidity_percent", "most_air_humidity_percent", "air"),
    )
    faults = []
    for place, product in _products(catalogue):
        limits = product.limits
        for low, high, of in ranges:
            least, most = getattr(limits, low), getattr(limits, high)
            if least is not None and most is not None and least > most:
                detail = f"{least:g} is more than {high}, which is {most:g}: no {of} is both"
                faults.append(Fault(detail=detail, pointer=f"{place}/limits/{low}"))
        if limits.least_profile is not None and not 1 <= limits.least_profile <= 10:
            detail = f"profiles of ICRI 310.2R go from 1 to 10, and this is {limits.least_profile}"
            faults.append(Fault(detail=detail, pointer=f"{place}/limits/least_profile"))
    return faults


def _lift_faults(catalogue: Catalogue) -> list[Fault]:
    """A greatest lift below the least is a slip: nothing could be poured."""
    return [
        Fault(
            detail=f"{product.greatest_lift_m:g} is less than least_lift_m, which is "
            f"{product.least_lift_m:g}: no lift is both",
            pointer=f"{place}/greatest_lift_m",
        )
        for place, product in _products(catalogue)
        if isinstance(product, Compound) and 0 < product.greatest_lift_m < product.least_lift_m
    ]


def _products(catalogue: Catalogue) -> Iterator[tuple[str, Product]]:
    """The usual product of each kind and the further ones, with the places where they stand."""
    for kind, further in LISTS.items():
        yield f"/{kind}", getattr(catalogue, kind)
        for i, product in enumerate(getattr(catalogue, further)):
            yield f"/{further}/{i}", product


def _divisors(product: Product) -> dict[str, float]:
    """What is divided by, by its place."""
    found = {"package/size": product.package.size}
    if isinstance(product, Compound):
        found["greatest_lift_m"] = product.greatest_lift_m
    if isinstance(product, Primer):
        found["coverage_porous_m2_per_l"] = product.coverage_porous_m2_per_l
        found["coverage_dense_m2_per_l"] = product.coverage_dense_m2_per_l
    if isinstance(product, Adhesive):
        found["coverage_m2_per_l"] = product.coverage_m2_per_l
        found |= {
            f"trowels/{i}/coverage_m2_per_l": trowel.coverage_m2_per_l
            for i, trowel in enumerate(product.trowels)
        }
    return found
