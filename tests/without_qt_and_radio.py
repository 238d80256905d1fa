"""A pytest plugin: in this process importing Qt or a radio stack fails, as on a machine that has neither."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec
from types import ModuleType

ABSENT = {"PySide6", "pyqtgraph", "bleak", "bumble", "dbus_fast"}


class AbsentError(ImportError):
    """Raised for a package that this process is to do without."""


class _Refuse(MetaPathFinder):
    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if name.partition(".")[0] in ABSENT:
            raise AbsentError(f"{name} is absent in this process")
        return None


if loaded := ABSENT & set(sys.modules):
    raise RuntimeError(f"{sorted(loaded)} are loaded already: load this plugin first")
sys.meta_path.insert(0, _Refuse())
