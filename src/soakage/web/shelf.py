"""Plots and drawings of the last pages, kept for as long as there is room."""

from __future__ import annotations

import hashlib
import json
from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Any

Plot = dict[str, Any]
_MOST_PLOTS, _MOST_DRAWINGS = 256, 256


class Shelf:
    """Plots and drawings of the last pages, by the hash of their content."""

    def __init__(self) -> None:
        self._plots: OrderedDict[str, Plot] = OrderedDict()
        self._drawings: OrderedDict[tuple[object, ...], bytes] = OrderedDict()
        self._lock = Lock()

    def put(self, plot: Plot) -> str:
        """Keep a plot and return its key."""
        key = hashlib.sha256(json.dumps(plot, sort_keys=True).encode()).hexdigest()[:24]
        with self._lock:
            self._plots[key] = plot
            self._plots.move_to_end(key)
            while len(self._plots) > _MOST_PLOTS:
                self._plots.popitem(last=False)
        return key

    def get(self, key: str) -> Plot | None:
        """Return a plot that is still there."""
        with self._lock:
            return self._plots.get(key)

    def drawing(self, name: tuple[object, ...], draw: Callable[[], bytes]) -> bytes:
        """Return a drawing, made where it is not there yet.

        Parameters
        ----------
        name : tuple
            Key of the plot, and how it is drawn.
        draw : callable
            Makes it.
        """
        with self._lock:
            if name in self._drawings:
                self._drawings.move_to_end(name)
                return self._drawings[name]
        made = draw()
        with self._lock:
            self._drawings[name] = made
            while len(self._drawings) > _MOST_DRAWINGS:
                self._drawings.popitem(last=False)
        return made
