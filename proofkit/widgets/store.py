"""The one object of the bench that changes: it holds the state and turns errors into sentences."""

from collections.abc import Callable
from dataclasses import replace
from threading import RLock
from typing import Concatenate, ParamSpec

from traitlets import HasTraits, Instance

from proofkit.errors import ProofkitError
from proofkit.folder.guarded import ChangedElsewhereError
from proofkit.widgets.state import BenchState

P = ParamSpec("P")


class BenchStore(HasTraits):
    """Holds a `BenchState`; panels observe `state`."""

    state = Instance(BenchState, args=())

    def __init__(self) -> None:
        super().__init__()
        self._lock = RLock()  # answers of widgets come on another thread than cells

    def run(
        self, step: Callable[Concatenate[BenchState, P], BenchState], *args: P.args, **kwargs: P.kwargs
    ) -> bool:
        """Replace the state by ``step(state, ...)``; a ProofkitError becomes the notice and False is returned."""
        with self._lock:
            try:
                self.state = step(self.state, *args, **kwargs)
            except ChangedElsewhereError as error:
                self.state = replace(self.state, notice=str(error), is_disputed=True)
                return False
            except ProofkitError as error:
                self.state = replace(self.state, notice=str(error))
                return False
            return True
