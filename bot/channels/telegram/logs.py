"""One line a happening, ``event=... key=value``: never a token, a person's number or a word that anybody said."""

from __future__ import annotations

import logging
import traceback
import warnings
from pathlib import Path

from telegram.warnings import PTBUserWarning

LOG = logging.getLogger("vatside.telegram")

LEAKY = ("httpx", "httpcore", "telegram")
"""They log whole addresses (the token is part of them), message texts, or updates that can't be read."""


def quiet_libraries() -> None:
    """Keep what the libraries log out of every log, and their warnings about themselves off the terminal."""
    for name in LEAKY:
        logger = logging.getLogger(name)
        logger.handlers = [logging.NullHandler()]
        logger.propagate = False
        logger.setLevel(logging.CRITICAL)
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    # A job that is broken off at the end is no error; whatever goes wrong in one is logged by itself.
    logging.getLogger("apscheduler.executors").setLevel(logging.CRITICAL)
    warnings.filterwarnings("ignore", category=PTBUserWarning)


def happened(event: str, /, *, level: int = logging.INFO, **facts: str | int | float) -> None:
    """Log one happening. Facts are names and numbers of ours, never what came over the wire."""
    LOG.log(level, "%s", " ".join([f"event={event}", *(f"{key}={value}" for key, value in facts.items())]))


def went_wrong(event: str, error: BaseException, /, **facts: str | int | float) -> None:
    """Log an error by its kind and place; its message may quote what somebody wrote, or an address."""
    frames = traceback.extract_tb(error.__traceback__)
    place = f"{Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else "unknown"
    happened(event, level=logging.ERROR, error=type(error).__name__, at=place, **facts)
