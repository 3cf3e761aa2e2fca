"""The log of a process: plain sentences for a person at a terminal, or one JSON object a line for a program.

A line holds what happened and where, never what was typed: no form, no query, no cookie, no token, no value read. A
password or a token is masked wherever it turns up.
"""

from __future__ import annotations

import json
import logging
import re
import traceback
from datetime import UTC, datetime
from typing import Any

_SECRETS = (
    (re.compile(r"(://[^:/@\s]*):[^@\s]*@"), r"\1:***@"),  # the password of an address
    (re.compile(r"\blw_[\w-]+"), "lw_***"),  # the token of a program
    (re.compile(r"(/answers/)[^\s/?]{20,}"), r"\1***"),  # the address of an answer given to a customer
)
#: What `logging` itself puts into a record; everything else was given as `extra`.
_OWN = frozenset(logging.makeLogRecord({}).__dict__) | {"message", "asctime", "taskName"}
#: Extras that may be told; any other is left out, because nobody has looked whether it may.
TOLD = ("page", "method", "status", "took_ms", "person", "station", "run", "reference", "stage", "outcome", "code")


class JsonLines(logging.Formatter):
    """A record as one line of JSON: at, level, from, process, message, the fields that may be told, and the fault."""

    def format(self, record: logging.LogRecord) -> str:
        """The line, without a line break in it."""
        line: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, tz=UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "from": record.name,
            "process": record.process,
            "message": masked(record.getMessage()),
        }
        line |= {name: value for name, value in record.__dict__.items() if name in TOLD and name not in _OWN}
        if record.exc_info and record.exc_info[0] is not None:
            line["fault"] = masked("".join(traceback.format_exception(*record.exc_info)).strip())
        return json.dumps(line, ensure_ascii=False, default=str)


class Sentences(logging.Formatter):
    """A record as a person reads it, passwords masked."""

    def format(self, record: logging.LogRecord) -> str:
        """The sentence, and the fault below it."""
        return masked(super().format(record))


def masked(text: str) -> str:
    """A text with passwords and tokens replaced."""
    for secret, instead in _SECRETS:
        text = secret.sub(instead, text)
    return text


def logging_of(log: str) -> dict[str, Any]:
    """Django's description of the log: `sentences`, warnings alone; `lines`, everything of ours as JSON."""
    as_lines = log == "lines"
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "sentences": {"()": f"{__name__}.Sentences", "format": "%(message)s"},
            "lines": {"()": f"{__name__}.JsonLines"},
        },
        "handlers": {"console": {"class": "logging.StreamHandler", "formatter": log}},
        "root": {"handlers": ["console"], "level": "WARNING"},
        "loggers": {
            "lapwright": {"level": "INFO" if as_lines else "WARNING"},
            "django.request": {"level": "ERROR"},  # what was refused is in our own lines
        },
    }
