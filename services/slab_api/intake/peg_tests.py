"""Posted two-peg checks as the core's."""

from collections.abc import Sequence
from math import isfinite

from slab_api.intake.reader import Path, Reader
from slab_api.intake.readings import ELEVATION_SD_M
from slab_api.schemas.peg_tests import PegReadingsDocument, PegTestDocument
from slab_core.surveys.instruments import INSTRUMENTS
from slab_core.surveys.model import PegReadings, PegTest, Setup


def read_peg_test(test: PegTestDocument, *, setups: Sequence[Setup], reader: Reader, at: Path) -> PegTest:
    """One check; without an accuracy of its own that of the setups that it is for."""
    instrument = test.instrument or ""
    return PegTest(
        middle=_stand(test.middle, reader=reader, at=(*at, "middle")),
        near=_stand(test.near, reader=reader, at=(*at, "near")),
        instrument=instrument,
        sd_m=_usual_sd(instrument, setups=setups)
        if test.sd is None
        else reader.positive(test.sd, (*at, "sd"), vertical=True),
    )


def _stand(stand: PegReadingsDocument, *, reader: Reader, at: Path) -> PegReadings:
    return PegReadings(
        rod_a_m=reader.length(stand.rod_a, (*at, "rod_a"), vertical=True),
        rod_b_m=reader.length(stand.rod_b, (*at, "rod_b"), vertical=True),
        distance_a_m=reader.not_negative(stand.distance_a, (*at, "distance_a")),
        distance_b_m=reader.not_negative(stand.distance_b, (*at, "distance_b")),
    )


def _usual_sd(instrument: str, *, setups: Sequence[Setup]) -> float:
    """The roughest of the setups that the check is for; that of one that could not be read is no number."""
    own = [setup.sd_m for setup in setups if not instrument or setup.instrument == instrument]
    usual = INSTRUMENTS[instrument].sd_m if instrument in INSTRUMENTS else ELEVATION_SD_M
    return max((sd for sd in own if isfinite(sd)), default=usual)
