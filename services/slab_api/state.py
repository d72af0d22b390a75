"""What one API process has: settings, database, files, clock, and the watcher of finished runs."""

from dataclasses import dataclass

from starlette.requests import HTTPConnection

from slab_api.waiting import FinishedRuns
from slab_base.clock import Clock
from slab_base.settings import Settings
from slab_files.storage import FolderStore
from slab_store.database import Database


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiState:
    """Made once when the process starts; routes reach it through the request."""

    settings: Settings
    database: Database
    files: FolderStore
    clock: Clock
    finished: FinishedRuns

    @property
    def base_url(self) -> str:
        """The absolute address that links and problem types begin with."""
        return self.settings.base_url()


def state_of(connection: HTTPConnection) -> ApiState:
    """The process's state."""
    state = connection.app.state.slab
    assert isinstance(state, ApiState)
    return state
