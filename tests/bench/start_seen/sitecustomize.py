"""Put first on a process's path by the start's benchmark: notes when an engine has lit its red.

``SPURLOCK_SEEN`` names the file that takes the monotonic time, in seconds, at which the wires
were taken. Nothing else of the process is touched.
"""

import os
import sys
import time
from collections.abc import Sequence
from importlib.machinery import ModuleSpec, PathFinder
from types import ModuleType

WIRES = "firmware_py.engine.wires"


class Seeing:
    """Finds the engine's wires as usual, and wraps the function that takes them."""

    def find_spec(
        self, name: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Find it as usual."""
        spec = PathFinder.find_spec(name, path, target) if name == WIRES else None
        if spec is not None and spec.loader is not None:
            load = spec.loader.exec_module

            def exec_module(module: ModuleType) -> None:
                load(module)
                take = module.take_wires

                def take_wires(*args: object, **kwargs: object) -> object:
                    wires = take(*args, **kwargs)
                    with open(os.environ["SPURLOCK_SEEN"], "w") as seen:
                        seen.write(repr(time.monotonic()))
                    return wires

                module.take_wires = take_wires  # type: ignore[attr-defined]

            spec.loader.exec_module = exec_module  # type: ignore[method-assign]
        return spec


sys.meta_path.insert(0, Seeing())
