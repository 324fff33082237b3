"""Compile a numeric kernel once per machine, also where nothing can be kept on disk."""

import hashlib
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path
from types import CodeType
from typing import Any, TypeVar, cast

import numba
import numpy as np
from numba.core.caching import FunctionCache

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
    compiled = numba.njit(**options)(function)
    with suppress(RuntimeError):  # no folder of the cache can be written
        compiled._cache = _Kept(function)  # as ``cache=True`` does, with one question more
    return cast("F", compiled)


class _Kept(FunctionCache):
    """Compiled code that is taken for a function's own only while all that is compiled into it is the same.

    Numba asks for the function's own file. A function of another file that it calls, and a number from there, are part
    of its code as well: after an update of that file alone the old ones would go on measuring.
    """

    def _index_key(self, sig: object, codegen: object) -> tuple[object, ...]:
        return (*super()._index_key(sig, codegen), leaned_on(self._py_func))


def leaned_on(function: Callable[..., object]) -> str:
    """Return a digest of what a kernel takes from beyond itself: the files of functions it calls, and constants."""
    found: dict[str, str] = {__file__: _digest_of(__file__)}
    _gather(function, found, set())
    return hashlib.sha256(repr(sorted(found.items())).encode()).hexdigest()


def _gather(function: Callable[..., object], found: dict[str, str], seen: set[object]) -> None:
    """Add what a function takes from beyond itself, and what that takes; all by names that tell them apart."""
    code: CodeType = function.__code__
    if code in seen:
        return
    seen.add(code)
    for name in code.co_names:
        value = function.__globals__.get(name)
        called = getattr(value, "py_func", None)
        if called is not None:
            found[called.__code__.co_filename] = _digest_of(called.__code__.co_filename)
            _gather(called, found, seen)
        elif isinstance(value, int | float | str | tuple | np.generic):
            found[f"{code.co_filename}:{name}"] = repr(value)
        elif (order := getattr(value, "_fields", None)) is not None:  # of a named tuple
            found[f"{code.co_filename}:{name}"] = repr(order)
        elif isinstance(value, np.ndarray):
            found[f"{code.co_filename}:{name}"] = f"{value.dtype} {value.shape} {value.tobytes().hex()}"


@cache
def _digest_of(path: str) -> str:
    return hashlib.sha256(Path(path).read_bytes()).hexdigest()
