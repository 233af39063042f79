"""Durable records: a history that is only added to, and the state that it adds up to.

Everything on the disk is plain JSON in one folder: ``history.jsonl`` and ``history-YYYY.jsonl`` for past years (the
truth), ``state.json`` (a snapshot that only saves time), ``lock``, and whatever was once set aside as damaged. Photos
that were kept with a record lie in ``evidence/``.
"""

from bot.store.errors import NewerFormatError, StoreBusy, StoreError
from bot.store.folding import Foldable
from bot.store.repair import Recovery
from bot.store.store import Records, Store, read_only
from bot.store.upkeep import Upkeep

__all__ = [
    "Foldable",
    "NewerFormatError",
    "Records",
    "Recovery",
    "Store",
    "StoreBusy",
    "StoreError",
    "Upkeep",
    "read_only",
]
