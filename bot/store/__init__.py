"""Durable records: a history that is only added to, and the state that it adds up to.

Everything on the disk is plain JSON in one folder: ``history.jsonl`` (the truth), ``state.json`` (a snapshot that
only saves time), ``lock``, and whatever was once set aside as damaged.
"""

from bot.store.errors import NewerFormatError, StoreBusy, StoreError
from bot.store.folding import Foldable
from bot.store.repair import Recovery
from bot.store.store import Records, Store, read_only

__all__ = ["Foldable", "NewerFormatError", "Records", "Recovery", "Store", "StoreBusy", "StoreError", "read_only"]
