"""The files of scans, read and reduced in a process of their own, for the core that knows no files."""

from pathlib import Path

from slab_core.numerics.budget import Budget
from slab_core.scans.model import FloorShape, Placement, Reduction, Scan, ScanOptions
from slab_files.importers.isolated import reduce_in_child
from slab_files.importers.messages import Limits, Progress
from slab_files.storage import FolderStore


class ScanFiles:
    """Reads scans from the folder that the API stores them in."""

    def __init__(self, *, folder: Path, most_seconds: float) -> None:
        self._store = FolderStore(folder=folder)
        self._limits = Limits(cpu_seconds=max(1, int(most_seconds)), wall_seconds=most_seconds)

    def __call__(
        self,
        *,
        scan: Scan,
        placement: Placement,
        floors: tuple[FloorShape, ...],
        options: ScanOptions,
        budget: Budget,
    ) -> tuple[Reduction, ...]:
        """One reduction for each floor.

        Raises
        ------
        InputRefused
            when the file cannot be used, or needs more time or memory than a worker gives it.
        Stopped
            when the budget says so.
        FileNotFoundError
            when this worker does not see the folder that the API stored the file in.
        """
        path = self._store.path(key=scan.file)
        if not path.is_file():
            raise FileNotFoundError(f"the file of scan {scan.id} is not in this worker's storage")
        reading = reduce_in_child(
            path=path,
            floors=floors,
            placement=placement,
            options=options,
            unit_m=scan.unit_m,
            limits=self._limits,
            progress=lambda message: _tell(budget, message),
            stop=budget.stop,
        )
        return reading.floors


def _tell(budget: Budget, message: Progress) -> None:
    """Of a file that does not say how many points it has, nobody knows how much is read."""
    if message.claimed:
        budget.tell(message.points / message.claimed)
