"""The one object of the panel that changes: it holds the state and turns errors into sentences."""

from collections.abc import Callable
from threading import RLock
from typing import Concatenate, ParamSpec

from traitlets import HasTraits, Instance

from proofkit.errors import ProofkitError
from proofkit.widgets.state import CheckState, stop_check

P = ParamSpec("P")


class CheckStore(HasTraits):
    """Holds a `CheckState`; panels observe `state`."""

    state = Instance(CheckState, args=())

    def __init__(self) -> None:
        super().__init__()
        self._lock = RLock()  # answers of widgets come on another thread than cells

    def run(
        self, step: Callable[Concatenate[CheckState, P], CheckState], *args: P.args, **kwargs: P.kwargs
    ) -> bool:
        """Replace the state by ``step(state, ...)``; a ProofkitError becomes the notice and False is returned."""
        with self._lock:
            try:
                self.state = step(self.state, *args, **kwargs)
            except ProofkitError as error:
                self.state = stop_check(self.state, str(error))
                return False
            return True
