"""``python -m bot`` is the command ``vatside``."""

from __future__ import annotations

import sys

from bot.cli import main

sys.exit(main())
