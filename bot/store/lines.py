"""One turn as one line of history: ``{"v":1,"crc":"5e0f...","seq":...}``.

The checksum covers the version and everything after the checksum itself. Without it a flipped bit inside a
time, a fryer or the version would pass for a record; with it, a line is either exactly what was written or it is
damaged. The frame at the start can't occur inside a line, where quotes in texts are escaped; so an undamaged line
is found again even where the line break before it is lost.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from zlib import crc32

import msgspec

from bot.core.records import Turn
from bot.store.errors import StoreError
from bot.store.migrations import MIGRATIONS, Migration, migrate, version_after

_FRAME = re.compile(rb'\{"v":([1-9][0-9]{0,8}),"crc":"([0-9a-f]{8})",')


class LineFormat:
    """Writes turns in the newest format and reads those of every format so far."""

    def __init__(self, migrations: Sequence[Migration] = MIGRATIONS) -> None:
        self.version = version_after(migrations)
        self._migrations = migrations
        self._written_version = str(self.version).encode()
        self._encoder = msgspec.json.Encoder()
        self._decoder = msgspec.json.Decoder(Turn)

    def encode(self, turn: Turn) -> bytes:
        """The line of ``turn``, with its line break."""
        return frame(self.version, self._encoder.encode(turn))

    def decode(self, line: bytes) -> Turn | None:
        """The turn of one line (without its line break), or None where the line is damaged.

        Raises ``NewerFormatError``, and ``StoreError`` where the line is as it was written but means nothing here.
        """
        match = _FRAME.match(line)
        if match is None or int(match[2], 16) != crc32(line[match.end() :], crc32(match[1])):
            return None
        try:
            if match[1] == self._written_version:
                return self._decoder.decode(line)
            raw = msgspec.json.decode(line)
            del raw["v"], raw["crc"]
            return msgspec.convert(migrate(raw, int(match[1]), self._migrations), Turn)
        except msgspec.MsgspecError as error:
            raise StoreError(
                f"record that this Vatside can't read ({error}); use the version that wrote it (nothing was changed)"
            ) from error


def frame(version: int, record: bytes) -> bytes:
    """The line of a record that is already encoded as a JSON object with at least one field."""
    digits = str(version).encode()
    body = record[1:]
    return b'{"v":%b,"crc":"%08x",%b\n' % (digits, crc32(body, crc32(digits)), body)


def split_at_frames(line: bytes) -> Iterator[bytes]:
    """``line`` cut before each frame in it: what a lost line break had joined."""
    start = 0
    for match in _FRAME.finditer(line):
        if match.start() > start:
            yield line[start : match.start()]
            start = match.start()
    yield line[start:]
