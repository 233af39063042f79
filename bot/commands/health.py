"""``vatside health``: whether ``vatside serve`` runs and works, for whatever watches over it."""

from __future__ import annotations

import argparse
import json
import sys

from bot.app import clock
from bot.channels.telegram.control import FOLDER, HEALTH
from bot.channels.telegram.health import read_health
from bot.commands.loading import kitchen_of, store_of


def run(args: argparse.Namespace) -> int:
    """Print the running helper's own report; 1 where none is fresh, or it says that something is wrong."""
    folder = store_of(args.store, kitchen_of(args.kitchen))
    report = read_health(folder / FOLDER / HEALTH, clock())
    if report is None:
        sys.stderr.write(f"{folder}: no running 'vatside serve' has reported here in the last minute\n")
        return 1
    sys.stdout.write(json.dumps(report) + "\n")
    return 0 if report.get("ok") is True else 1
