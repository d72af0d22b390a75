"""One chunk of a survey, as JSON columns or as Arrow, as the core's readings."""

import numpy as np

from slab_api.bodies.arrow import read_columns
from slab_api.intake.job import core_faults
from slab_api.intake.reader import Reader
from slab_api.intake.readings import ELEVATION_SD_M, NO_SETUP, Setups, read_readings, setup_places
from slab_api.intake.surveys import read_setups
from slab_api.problems import invalid
from slab_api.schemas.surveys import ReadingsDocument, SurveyCreate
from slab_api.schemas.units import UnitsDocument
from slab_app.errors import Fault
from slab_core.surveys.check import check_surveys
from slab_core.surveys.instruments import POSITIONS
from slab_core.surveys.model import Readings, Survey

_HEAD = "/surveys/0/readings/0"


def chunk_from_json(columns: ReadingsDocument, *, survey: SurveyCreate, units: UnitsDocument) -> Readings:
    """Raises ApiProblem that names the rows that are wrong."""
    reader = Reader(units=units)
    setups = read_setups(survey, reader=Reader(units=units), at=())
    readings = read_readings(columns, setups=setups, reader=reader, at=())
    return _checked(readings, setups=setups, reader=reader)


def chunk_from_arrow(body: bytes, *, survey: SurveyCreate, units: UnitsDocument) -> Readings:
    """Raises ApiProblem that names the columns or rows that are wrong."""
    numbers, names = read_columns(body)
    reader = Reader(units=units)
    setups = read_setups(survey, reader=Reader(units=units), at=())
    rows = len(numbers["x"])
    kind = "rod" if "rod" in numbers else "elevation"
    setup = _setup(names, kind=kind, rows=rows, setups=setups, reader=reader)
    usual = np.array([*(found.sd_m for found in setups.setups), ELEVATION_SD_M])
    readings = Readings(
        kind="rod" if kind == "rod" else "elevation",
        x_m=numbers["x"] * reader.metres_per_length,
        y_m=numbers["y"] * reader.metres_per_length,
        value_m=numbers[kind] * reader.metres_per_height,
        setup=setup,
        sd_m=numbers["sd"] * reader.metres_per_height if "sd" in numbers else usual[setup],
        position_sd_m=numbers["position_sd"] * reader.metres_per_length
        if "position_sd" in numbers
        else np.full(rows, POSITIONS["grid"].sd_m),
    )
    return _checked(readings, setups=setups, reader=reader)


def _setup(
    names: list[str] | None, *, kind: str, rows: int, setups: Setups, reader: Reader
) -> "np.ndarray[tuple[int, ...], np.dtype[np.int32]]":
    if kind == "elevation" or (names is None and not setups.setups):
        if kind == "rod":
            reader.fault("rod readings need a survey with a setup", ("setup",))
        elif names is not None:
            reader.fault("elevations are heights above the datum and have no setup", ("setup",))
        return np.full(rows, NO_SETUP, dtype=np.int32)
    if names is None and len(setups.setups) == 1:
        return np.zeros(rows, dtype=np.int32)
    if names is None:
        reader.fault(f"give the column setup; there are: {setups.known()}", ("setup",))
        return np.full(rows, NO_SETUP, dtype=np.int32)
    return setup_places(names, setups=setups, reader=reader, at=("setup",))


def _checked(readings: Readings, *, setups: Setups, reader: Reader) -> Readings:
    survey = Survey(id="chunk", setups=setups.setups, readings=(readings,))
    problems = check_surveys(surveys=(survey,), benchmarks=())
    own = tuple(problem for problem in problems if problem.pointer.startswith(_HEAD))
    faults = core_faults(own, found=reader.faults, drop=_HEAD)
    if not len(readings.x_m) and not faults:
        faults = (Fault(detail="this chunk has no rows; give at least one, or leave it out", pointer="/x"),)
    if faults:
        raise invalid(faults)
    return readings
