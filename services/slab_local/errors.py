"""What can go wrong with servers on this machine."""


class LocalServerError(RuntimeError):
    """A server could not be started or kept running; the message says what to do."""
