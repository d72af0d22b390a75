"""`python -m slab_worker`: hear the doorbell, claim steps, compute."""

import logging
import os
import sys

from slab_base.logs import configure_logging
from slab_base.setting_fields import SettingError
from slab_base.settings import Settings, load_settings
from slab_base.tasks import QUEUES
from slab_base.threads import one_thread

_log = logging.getLogger(__name__)


def main() -> int:
    """Start the worker; the answer is the exit code."""
    one_thread()
    try:
        settings = load_settings()
        configure_logging(level=settings.log_level)
        _quieten_celery()
        _use_cache_folder(settings)
        return _serve(settings)
    except SettingError as problem:
        print(problem, file=sys.stderr)  # noqa: T201 - logging may not be set up yet
        return 2


def _quieten_celery() -> None:
    """Two lines for every bell would bury the lines about steps."""
    for name in ("celery.app.trace", "celery.worker.strategy"):
        logging.getLogger(name).setLevel(logging.WARNING)


def _use_cache_folder(settings: Settings) -> None:
    """Name the folder of compiled kernels before numba is imported; it must be writable even when full."""
    folder = settings.numba_cache_dir.absolute()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe = folder / f".writable-{os.getpid()}"
        probe.touch()
        probe.unlink()
    except OSError as problem:
        raise SettingError(f"SLABWRIGHT_NUMBA_CACHE_DIR must be a writable folder: {problem}") from problem
    os.environ["NUMBA_CACHE_DIR"] = str(folder)


def _serve(settings: Settings) -> int:
    # Imported here: the engine loads numba, which reads the variables set above.
    from slab_worker.app import broker_queue, make_app
    from slab_worker.doorbells import install_lifecycle, install_tasks
    from slab_worker.engine import load_engine, warm

    app = make_app(settings=settings)
    engine = load_engine(name=settings.engine)
    install_tasks(app=app)
    install_lifecycle(settings=settings, engine=engine)
    warm(engine=engine)
    _log.info("the worker is warm", extra={"processes": settings.worker_processes})
    queues = ",".join(broker_queue(queue=queue) for queue in QUEUES)
    options = ["--without-gossip", "--without-mingle", "--without-heartbeat", "-O", "fair"]
    pool = ["--pool=prefork", f"--concurrency={settings.worker_processes}", "-Q", queues]
    app.worker_main(["worker", f"--loglevel={settings.log_level}", *pool, *options])
    return 0


if __name__ == "__main__":
    sys.exit(main())
