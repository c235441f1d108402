"""Finds the parts of the house: files of a folder, and installed add-ons, that declare a given name."""

from __future__ import annotations

import importlib
import pkgutil
from importlib.metadata import entry_points
from types import ModuleType
from typing import TypeVar

from soakage.errors import DiscoveryError

T = TypeVar("T")


def declared(package: ModuleType, name: str, kind: type[T], group: str) -> dict[str, T]:
    """Return every part that a module of the package, or an installed add-on, declares under a name.

    Parameters
    ----------
    package : module
        Package whose modules are searched, in the order of their names.
    name : str
        Module-level name looked for, for example ``METHOD``; a module without it is passed over.
    kind : type
        What the name must hold; it must have an ``id``.
    group : str
        Entry-point group of outside add-ons, for example ``soakage.methods``.

    Returns
    -------
    dict
        Parts by id.

    Raises
    ------
    DiscoveryError
        If an id is declared twice or a declaration is of another kind.
    """
    found: dict[str, T] = {}
    places: dict[str, str] = {}

    def keep(part: object, place: str) -> None:
        if not isinstance(part, kind):
            raise DiscoveryError(f"{place}: {name} is a {type(part).__name__}, a {kind.__name__} is needed.")
        part_id = str(part.id)  # type: ignore[attr-defined]
        if part_id in found:
            raise DiscoveryError(
                f"{place} declares {part_id!r}, which {places[part_id]} declares already. Rename one of them."
            )
        found[part_id], places[part_id] = part, place

    for module_info in sorted(pkgutil.iter_modules(package.__path__), key=lambda info: info.name):
        module = importlib.import_module(f"{package.__name__}.{module_info.name}")
        if hasattr(module, name):
            keep(getattr(module, name), module.__name__)
    for point in sorted(entry_points(group=group), key=lambda point: point.name):
        keep(point.load(), f"add-on {point.value}")
    return found
