"""Pours that were placed before the work that is planned begins, and still dry."""

from dataclasses import dataclass

from slab_core.takeoff.model import Task

CODE = "resting"


@dataclass(frozen=True, slots=True, kw_only=True)
class Resting:
    """The greatest depth poured of each floor and phase, in metres, and the elapsed hours from the end of the
    last pour to the start of the work."""

    depths: tuple[tuple[str, int, float], ...] = ()
    rested_hours: float = 0.0

    def tasks(self) -> tuple[Task, ...]:
        """A wait of each floor and phase, with nobody in it."""
        return tuple(
            Task(
                code=CODE,
                what="Let what is poured dry",
                floor=floor,
                phase=phase,
                person_hours=0.0,
                most_people=1,
                depth_m=depth_m,
            )
            for floor, phase, depth_m in self.depths
        )


NOTHING_RESTS = Resting()
