"""Which model each stage's stored result is of. Model files load none of the algorithms."""

from typing import Any, Final

from slab_core.correction.model import Plan
from slab_core.layout.model import Layout
from slab_core.quote.model import Quote
from slab_core.rooms.model import Rooms
from slab_core.schedule.model import Schedule
from slab_core.surface.model import Surface
from slab_core.surveys.model import Network
from slab_core.takeoff.model import Takeoff
from slab_core.tolerance.model import ToleranceReport

MODELS: Final[dict[str, type[Any]]] = {
    "rooms": Rooms,
    "surveys": Network,
    "surface": Surface,
    "tolerance": ToleranceReport,
    "correction": Plan,
    "layout": Layout,
    "takeoff": Takeoff,
    "schedule": Schedule,
    "quote": Quote,
}
