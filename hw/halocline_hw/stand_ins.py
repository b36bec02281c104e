"""Keeps what a library names at its import and control never uses out of the process.

Control has to be back within three seconds of whatever ended it, and most of its start is imports: a tenth of them was
for the catalogue of installed packages and for colours, neither of which a plant needs.
"""

import importlib
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from types import ModuleType
from typing import Any


@contextmanager
def stand_ins(modules: Mapping[str, Mapping[str, Any]]) -> Iterator[None]:
    """Modules of this content (module → name → value) while something is imported; those that were there come back."""
    before = {name: sys.modules.get(name) for name in modules}
    for name, contents in modules.items():
        sys.modules[name] = ModuleType(name, "Stands in while a library is imported.")
        sys.modules[name].__dict__.update(contents)
    try:
        yield
    finally:
        for name, module in before.items():
            del sys.modules[name]
            if module is not None:
                sys.modules[name] = module


def deferred(module: str, name: str) -> Callable[..., Any]:
    """A function that imports the real one when it is called first."""

    def call(*arguments: Any, **named: Any) -> Any:
        return getattr(importlib.import_module(module), name)(*arguments, **named)

    return call
