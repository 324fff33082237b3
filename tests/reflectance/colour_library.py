"""The reference library colour-science, imported without its remark that matplotlib is missing."""

import warnings

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

__all__ = ["colour"]
