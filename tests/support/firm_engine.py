"""The real engine, warmed for the firm's schedule alone, so that a test's worker is ready in seconds."""

from slab_app.work.engine import Engine
from slab_core.schedule import warm


class FirmEngine(Engine):
    """Computes as the service does."""

    def warm(self) -> None:
        """Compile what plans of the firm need, and nothing of the estimates' line."""
        warm.warm()
