"""One way to compile a kernel, so that none forgets to release the interpreter or to keep its code.

The kept code of a kernel is renewed when its own file changes, not when a kernel or constant it uses from
another file does. So a kernel calls kernels of its own file only, and takes constants as arguments.
"""

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

_F = TypeVar("_F", bound=Callable[..., Any])


def kernel(function: _F) -> _F:
    """Compile for one core, cached on disk, without holding the interpreter's lock."""
    return cast(_F, njit(cache=True, nogil=True)(function))


def summing_kernel(function: _F) -> _F:
    """The same, and sums may be reordered so that they use the vector unit. No NaN may go in."""
    return cast(_F, njit(cache=True, nogil=True, fastmath=True)(function))


def inner_kernel(function: _F) -> _F:
    """A small kernel that becomes part of the kernels of its file that call it: a call hands over every array
    of its arguments, which for tuples of many arrays costs more than the work."""
    return cast(_F, njit(cache=True, nogil=True, forceinline=True)(function))
