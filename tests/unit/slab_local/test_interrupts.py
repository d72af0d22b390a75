"""Ctrl-C and SIGTERM."""

import os
import signal

import pytest

from slab_local.interrupts import Interrupted, interruptible, undisturbed


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_request_to_end_leaves_the_block_once(number: signal.Signals) -> None:
    stopped = []

    def work() -> None:
        try:
            os.kill(os.getpid(), number)
            signal.pause()
        finally:
            os.kill(os.getpid(), signal.SIGINT)  # an impatient second Ctrl-C does not cut the end short
            stopped.append(True)

    with pytest.raises(Interrupted, match=number.name), interruptible():
        work()
    assert stopped == [True]


def test_the_handlers_from_before_are_put_back() -> None:
    before = signal.getsignal(signal.SIGTERM)
    with interruptible():
        assert signal.getsignal(signal.SIGTERM) is not before
    assert signal.getsignal(signal.SIGTERM) is before


def test_a_request_to_end_waits_for_what_may_not_be_cut_off() -> None:
    done = []

    def work() -> None:
        with undisturbed():
            os.kill(os.getpid(), signal.SIGINT)
            done.append("child is known")
        done.append("went on")

    with pytest.raises(Interrupted, match="SIGINT"), interruptible():
        work()
    assert done == ["child is known"]
