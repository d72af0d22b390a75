"""`python -m slab_api`: serve HTTP with the settings of the environment."""

import sys

from slab_base.threads import one_thread

one_thread()

import uvicorn  # noqa: E402 - the thread variables come before anything that may load numpy

from slab_api.app import create_app  # noqa: E402 - the same
from slab_base.logs import configure_logging  # noqa: E402 - the same
from slab_base.setting_fields import SettingError  # noqa: E402 - the same
from slab_base.settings import load_settings  # noqa: E402 - the same


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
    uvicorn.run(
        app,
        host=settings.host,
        port=settings.port,
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=10,
        timeout_keep_alive=75,
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
