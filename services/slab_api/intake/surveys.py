"""Posted surveys as the core's surveys."""

from slab_api.intake.peg_tests import read_peg_test
from slab_api.intake.reader import Path, Reader
from slab_api.intake.readings import Setups, read_gaps, read_line, read_readings
from slab_api.intake.stretched import read_stretched_line
from slab_api.schemas.surveys import BenchmarkDocument, SetupDocument, SightDocument, SurveyParts
from slab_core.surveys.instruments import INSTRUMENTS
from slab_core.surveys.model import Benchmark, Readings, Setup, Sight, Survey


def read_survey(
    survey: SurveyParts, *, id: str, reader: Reader, at: Path, chunks: tuple[Readings, ...] = ()
) -> Survey:
    """One survey; `chunks` are readings that came apart from it, and follow its own."""
    setups = read_setups(survey, reader=reader, at=at)
    return Survey(
        id=id,
        setups=setups.setups,
        sights=tuple(
            _sight(sight, reader=reader, at=(*at, "sights", i)) for i, sight in enumerate(survey.sights)
        ),
        readings=tuple(
            read_readings(columns, setups=setups, reader=reader, at=(*at, "readings", i))
            for i, columns in enumerate(survey.readings)
        )
        + chunks,
        gaps=tuple(
            read_gaps(columns, reader=reader, at=(*at, "gaps", i)) for i, columns in enumerate(survey.gaps)
        ),
        lines=tuple(
            read_line(line, setups=setups, reader=reader, at=(*at, "lines", i))
            for i, line in enumerate(survey.lines)
        ),
        stretched_lines=tuple(
            read_stretched_line(line, reader=reader, at=(*at, "stretched_lines", i))
            for i, line in enumerate(survey.stretched_lines)
        ),
        peg_tests=tuple(
            read_peg_test(test, setups=setups.setups, reader=reader, at=(*at, "peg_tests", i))
            for i, test in enumerate(survey.peg_tests)
        ),
        after=survey.after,
    )


def read_setups(survey: SurveyParts, *, reader: Reader, at: Path) -> Setups:
    """The setups of a survey, with their instruments' accuracy where none is given."""
    return Setups.of(
        tuple(_setup(setup, reader=reader, at=(*at, "setups", i)) for i, setup in enumerate(survey.setups))
    )


def read_benchmarks(benchmarks: tuple[BenchmarkDocument, ...], *, reader: Reader) -> tuple[Benchmark, ...]:
    """The fixed references of a job."""
    return tuple(
        Benchmark(
            id=benchmark.id,
            elevation_m=reader.length(benchmark.elevation, ("benchmarks", i, "elevation"), vertical=True),
            sd_m=reader.not_negative(benchmark.sd, ("benchmarks", i, "sd"), vertical=True),
        )
        for i, benchmark in enumerate(benchmarks)
    )


def _sight(sight: SightDocument, *, reader: Reader, at: Path) -> Sight:
    distance = sight.distance
    return Sight(
        setup=sight.setup,
        target=sight.target,
        rod_m=reader.length(sight.rod, (*at, "rod"), vertical=True),
        distance_m=None if distance is None else reader.not_negative(distance, (*at, "distance")),
    )


def _setup(setup: SetupDocument, *, reader: Reader, at: Path) -> Setup:
    usual = INSTRUMENTS.get(setup.instrument)
    if setup.sd is not None:
        sd = reader.positive(setup.sd, (*at, "sd"), vertical=True)
    elif usual is not None:
        sd = usual.sd_m
    else:
        sd = float("nan")
        reader.fault(
            f"the accuracy of {setup.instrument!r} is not known; give sd, or use one of "
            f"{', '.join(INSTRUMENTS)}",
            (*at, "instrument"),
        )
    place = None if setup.place is None else reader.point(setup.place, (*at, "place"))
    return Setup(id=setup.id, instrument=setup.instrument, sd_m=sd, place=place)
