"""shrinkwise: from an in-store bakery's logs to a bake plan.

The public names load on first use, so that `import shrinkwise` is instant.
"""

from importlib import import_module
from typing import Any

_PUBLIC = {
    "__version__": ("shrinkwise.version", "VERSION"),
    "read_records": ("shrinkwise.records.reading", "read_records"),
    "fit_demand": ("shrinkwise.demand.model", "fit_demand"),
    "fit_shelf": ("shrinkwise.shelf.model", "fit_shelf"),
    "plan_bakes": ("shrinkwise.planning.plan", "plan_bakes"),
    "read_scenario": ("shrinkwise.scenarios.scenario", "read_scenario"),
    "compare_lines": ("shrinkwise.scenarios.compare", "compare_lines"),
}

__all__ = [*_PUBLIC]


def __getattr__(name: str) -> Any:
    if name in _PUBLIC:
        module, attribute = _PUBLIC[name]
        return getattr(import_module(module), attribute)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
