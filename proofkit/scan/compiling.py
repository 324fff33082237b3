"""Compile a numeric kernel once per machine, also where nothing can be kept on disk."""

from collections.abc import Callable
from typing import TypeVar, cast

import numba

F = TypeVar("F", bound=Callable[..., object])


def kernel(function: F) -> F:
    """Return `function` compiled, without the interpreter's lock, and kept in the cache on disk.

    The compiled code is kept beside the source, else in the user's cache folder (or where ``NUMBA_CACHE_DIR``
    says). Where none of them can be written the kernel is compiled anew by each process: slower to start,
    equal in its results.

    Parameters
    ----------
    function : callable
        Plain Python on numpy arrays and numbers.

    Returns
    -------
    callable
        The same function, compiled at its first call.
    """
    try:
        compiled = numba.njit(cache=True, nogil=True)(function)
    except RuntimeError:  # no folder of the cache can be written
        compiled = numba.njit(nogil=True)(function)
    return cast("F", compiled)
