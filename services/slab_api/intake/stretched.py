"""Posted stretched lines as the core's."""

import numpy as np

from slab_api.intake.reader import Path, Reader
from slab_api.intake.readings import check_equal, spread
from slab_api.schemas.stretched import StretchedLineDocument
from slab_core.surveys.instruments import INSTRUMENTS
from slab_core.surveys.model import StretchedLine


def read_stretched_line(line: StretchedLineDocument, *, reader: Reader, at: Path) -> StretchedLine:
    """One line with its readings. Every row that is wrong is named."""
    rows = len(line.distance)
    check_equal({"distance": line.distance, "value": line.value}, reader=reader, at=at)
    return StretchedLine(
        id=line.id,
        ends=line.ends,
        start=reader.point(line.from_, (*at, "from")),
        end=reader.point(line.to, (*at, "to")),
        start_height_m=reader.length(line.from_height, (*at, "from_height"), vertical=True),
        end_height_m=reader.length(line.to_height, (*at, "to_height"), vertical=True),
        along_m=reader.column(line.distance, (*at, "distance")),
        value_m=reader.column(line.value, (*at, "value"), vertical=True),
        sd_m=np.full(rows, INSTRUMENTS["stretched-line"].sd_m)
        if line.sd is None
        else spread(line.sd, rows=rows, reader=reader, at=(*at, "sd"), vertical=True),
        end_sd_m=reader.not_negative(line.end_sd, (*at, "end_sd"), vertical=True),
        position_sd_m=reader.not_negative(line.position_sd, (*at, "position_sd")),
        sag_m=None if line.sag is None else reader.not_negative(line.sag, (*at, "sag"), vertical=True),
        kg_per_metre=line.kg_per_metre,
        tension_n=line.tension_n,
    )
