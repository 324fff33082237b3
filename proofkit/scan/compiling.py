"""Compile a numeric kernel once per machine, also where nothing can be kept on disk."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

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
    return _compiled(function, wide=False)


def wide_kernel(function: F) -> F:
    """Return `function` compiled as by `kernel`, so that many numbers are divided and summed side by side.

    Sums are taken in an order that is settled when they are compiled: their last digits depend on the kind of
    processor, not on threads. Where something is divided by zero the result is infinite or NaN, as in numpy, and not an
    error.
    """
    return _compiled(function, wide=True)


def _compiled(function: F, *, wide: bool) -> F:
    options: dict[str, Any] = {
        "nogil": True,
        "error_model": "numpy" if wide else "python",
        "fastmath": {"reassoc"} if wide else False,
        "no_cfunc_wrapper": True,  # nothing calls them from C
    }
    try:
        compiled = numba.njit(cache=True, **options)(function)
    except RuntimeError:  # no folder of the cache can be written
        compiled = numba.njit(**options)(function)
    return cast("F", compiled)
