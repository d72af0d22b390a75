"""`python -m slab_api`: serve HTTP with the settings of the environment."""

import sys
from contextlib import suppress
from types import FrameType

from slab_base.threads import one_thread

one_thread()

import uvicorn  # noqa: E402 - the thread variables come before anything that may load numpy

from slab_api.app import create_app  # noqa: E402 - the same
from slab_api.state import ApiState  # noqa: E402 - the same
from slab_base.logs import configure_logging  # noqa: E402 - the same
from slab_base.setting_fields import SettingError  # noqa: E402 - the same
from slab_base.settings import load_settings  # noqa: E402 - the same


class _Server(uvicorn.Server):
    """Lets waiting clients go as soon as it is told to stop; else each of them would hold it up."""

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Called for SIGINT and SIGTERM."""
        super().handle_exit(sig, frame)
        state: ApiState = self.config.app.state.slab  # type: ignore[union-attr]  # main gave it our own app
        state.finished.release()


def main() -> int:
    """Serve until told to stop; the answer is the exit code."""
    configure_logging()
    try:
        settings = load_settings()
        app = create_app(settings)
    except SettingError as problem:
        sys.stderr.write(f"{problem}\n")
        return 2
    configure_logging(level=settings.log_level)
    config = uvicorn.Config(
        app,
        host=settings.host,
        port=settings.port,
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=10,
        timeout_keep_alive=75,
    )
    with suppress(KeyboardInterrupt):  # raised again by the server once it has ended in good order
        _Server(config).run()
    return 0


if __name__ == "__main__":
    sys.exit(main())
