"""Logs: one JSON object a line, without secrets."""

from __future__ import annotations

import json
import logging
import sys
from datetime import UTC, datetime


class Lines(logging.Formatter):
    """One JSON object for each record: time, level, logger, event and what is told with it."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the record as one line."""
        told = getattr(record, "told", {})
        line = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "event": record.getMessage(),
            **told,
        }
        if record.exc_info:
            line["failure"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str)


def set_up(level: int = logging.WARNING) -> None:
    """Write the logs of the server to standard error.

    Parameters
    ----------
    level : int
        Least severe that is written; ``logging.INFO`` writes every request.
    """
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(Lines())
    for name in ("soakage", "uvicorn", "uvicorn.error"):
        logger = logging.getLogger(name)
        logger.handlers, logger.propagate = [], name == "uvicorn.error"
        logger.setLevel(level)
    for name in ("soakage", "uvicorn"):
        logging.getLogger(name).addHandler(handler)
