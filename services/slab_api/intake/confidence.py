"""How surely the floor shall pass, and how well the crew places, as the core takes them."""

from dataclasses import fields, replace

from slab_api.intake.reader import Reader
from slab_api.schemas.options import OptionsDocument
from slab_core.correction.assurance_model import Confidence, PlacingErrors

MOST_ERROR_M = 0.0254


def read_confidence(options: OptionsDocument, *, reader: Reader) -> Confidence | None:
    """None where no probability is asked for; errors that are not given are the usual ones."""
    given, at = options.placing_errors, ("options", "placing_errors")
    if options.confidence is None:
        if given is not None:
            reader.fault("this goes with options.confidence; give it too, or leave this out", at)
        return None
    usual = PlacingErrors()
    if given is None:
        return Confidence(probability=options.confidence, placing=usual)
    changes = {}
    for field in fields(usual):
        name = field.name.removesuffix("_m")
        value = getattr(given, name)
        if value is not None:
            metres = reader.not_negative(value, (*at, name), vertical=True)
            if metres > MOST_ERROR_M:
                reader.fault(f"{value} is more than 1 in (25.4 mm): no crew is so far off", (*at, name))
            changes[field.name] = metres
    return Confidence(probability=options.confidence, placing=replace(usual, **changes))
