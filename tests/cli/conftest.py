"""The editions of the check tests serve here too."""

from tests.check.conftest import checked, checked_once, drawn, edition

__all__ = ["checked", "checked_once", "drawn", "edition"]
