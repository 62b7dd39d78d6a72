"""The service's log: one JSON object a line, with run ids, without tokens."""

import json
import logging
import sys
import time
from typing import Any

LOGGER = logging.getLogger("paretorque.service")
# What every record has, and colours that the server's library adds.
_STANDARD = frozenset(vars(logging.makeLogRecord({}))) | {"message", "color_message"}


class JsonLines(logging.Formatter):
    """Writes a record and its extra fields as one JSON object."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        content: dict[str, Any] = {
            "time": time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime(record.created))
            + f".{int(record.msecs):03d}Z",
            "level": record.levelname.lower(),
            "event": record.getMessage(),
        }
        content |= {k: v for k, v in vars(record).items() if k not in _STANDARD and k[0] != "_"}
        if record.exc_info:
            content["report"] = self.formatException(record.exc_info)
        return json.dumps(content, ensure_ascii=True, default=str)


def start_logging(level: int = logging.INFO) -> None:
    """Send the service's and the server's records to standard error as JSON lines."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    for name in ("paretorque", "optim", "uvicorn"):
        logger = logging.getLogger(name)
        logger.handlers = [handler]
        logger.setLevel(level)
        logger.propagate = False
