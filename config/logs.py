"""The log: lines for people, or JSON for machines (LOG_FORMAT=json), each with its request's id."""

import json
import logging
from datetime import UTC, datetime
from typing import Any

from registry.serving.request_log import request_id

FACTS = ("method", "route", "status", "ms", "person")


def _facts(record: logging.LogRecord) -> dict[str, Any]:
    facts = {name: getattr(record, name) for name in FACTS if hasattr(record, name)}
    if found := request_id.get():
        facts["request_id"] = found
    return facts


class LineFormatter(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        line = super().format(record)
        facts = " ".join(f"{name}={value}" for name, value in _facts(record).items())
        return f"{line} {facts}".rstrip()


class JsonFormatter(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        entry = {"at": at, "level": record.levelname, "logger": record.name}
        entry |= {"message": record.getMessage(), **_facts(record)}
        if record.exc_info:
            entry["traceback"] = self.formatException(record.exc_info)
        return json.dumps(entry, ensure_ascii=False, default=str)


def logging_settings(*, level: str, form: str, file: str) -> dict[str, Any]:
    handler: dict[str, Any] = {"class": "logging.StreamHandler", "formatter": form}
    if file:
        handler |= {"class": "logging.handlers.WatchedFileHandler", "filename": file, "delay": True}
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "line": {
                "()": "config.logs.LineFormatter",
                "format": "{asctime} {levelname} {name} {message}",
                "style": "{",
            },
            "json": {"()": "config.logs.JsonFormatter"},
        },
        "handlers": {"log": handler},
        "root": {"handlers": ["log"], "level": level},
        "loggers": {
            # Who lacks the role is told so by the page; a traceback of it helps nobody.
            "django.request": {"level": "ERROR"},
        },
    }
