"""The log: events with keys and values on standard error; JSON where that is not a terminal."""

from __future__ import annotations

import logging
import sys

import structlog


def configure(level: str) -> None:
    """Log from `level` ("debug", "info", "warning", "error") on."""
    terminal = sys.stderr.isatty()
    renderer = structlog.dev.ConsoleRenderer(colors=terminal) if terminal else structlog.processors.JSONRenderer()
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,  # which pond, where there are many
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.dict_tracebacks if not terminal else structlog.processors.StackInfoRenderer(),
            renderer,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(getattr(logging, level.upper())),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
    )
