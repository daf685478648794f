"""shrinkwise: from an in-store bakery's logs to a bake plan.

The public names load on first use, so that `import shrinkwise` is instant.
"""

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_PUBLIC = {
    "read_records": "shrinkwise.records.reading",
    "fit_demand": "shrinkwise.demand.model",
    "fit_shelf": "shrinkwise.shelf.model",
    "plan_bakes": "shrinkwise.planning.plan",
    "compare_lines": "shrinkwise.scenarios.compare",
}

__all__ = ["__version__", *_PUBLIC]  # noqa: PLE0604


def __getattr__(name: str) -> Any:
    if name in _PUBLIC:
        return getattr(import_module(_PUBLIC[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
