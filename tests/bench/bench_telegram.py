"""The Telegram door under load, against a bare echo bot of the same library in the same run.

    python tests/bench/bench_telegram.py [--updates 10000] [--whole 2000] [--rate 100]

500 people in 50 group chats, one kitchen each; one update in twenty comes a second time (not to the echo bots). The
Bot API is a stub inside the process that answers at once, so that only the bots are measured; their outgoing limits
are off, for the stub asks for none. Throughput is measured with all updates waiting; the time from an update being
handed over to its answer at a steady ``--rate`` a second. The door is measured with a helper that echoes, and with
whole helpers (understanding, decision, and a record on the disk before every answer), made ready as ``vatside serve``
does. The same echo bot is measured too with one synced line a message, since nothing that the helper says may be off
the disk; the ratios to both echo bots are printed.

Counted in every run: updates lost, answered twice, and out of order within their chat; all must be 0.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import random
import re
import statistics
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import urlsplit

from telegram import Update
from telegram.ext import Application, ApplicationBuilder, ContextTypes, ExtBot, MessageHandler, filters
from telegram.request import BaseRequest, RequestData

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1] / "channels" / "telegram")]

import telegram_kit  # noqa: E402

from bot.app import Helper, clock  # noqa: E402
from bot.channels.port import Helper as Port  # noqa: E402
from bot.channels.telegram.addresses import AddressBook  # noqa: E402
from bot.channels.telegram.line import Patience  # noqa: E402
from bot.channels.telegram.logs import quiet_libraries  # noqa: E402
from bot.channels.telegram.running import Door  # noqa: E402
from bot.commands.loading import understander_of  # noqa: E402
from bot.commands.serve import make_ready  # noqa: E402
from bot.content.catalogue import load_content  # noqa: E402
from bot.core.kitchen import Kitchen, Person  # noqa: E402

CHATS, PEOPLE = 50, 500
TOKEN = "4711:nobody"
NUMBER = re.compile(r"\bn(\d+)\b")


Bot = Callable[["Stub", list[Port]], Awaitable[None]]


class Stub(BaseRequest):
    """A Bot API that hands out updates and takes answers, within the process."""

    def __init__(self, updates: list[dict[str, Any]], rate: float | None) -> None:
        self.updates = updates
        self.rate = rate
        self.next = 0
        self.batch: list[dict[str, Any]] = []
        self.began: float | None = None
        self.ended = 0.0
        self.handed: dict[int, float] = {}
        self.answers: dict[int, list[int]] = defaultdict(list)
        self.delays: list[float] = []
        self.wanted = len({u["n"] for u in updates})
        self.done = asyncio.Event()
        self._messages = 0

    async def initialize(self) -> None:
        """Nothing to open."""

    async def shutdown(self) -> None:
        """Nothing to close."""

    @property
    def read_timeout(self) -> float | None:
        return 5.0

    async def do_request(
        self, url: str, method: str, request_data: RequestData | None = None, *args: Any, **more: Any
    ) -> tuple[int, bytes]:
        call = urlsplit(url).path.rpartition("/")[2]
        params = request_data.parameters if request_data is not None else {}
        if call == "getUpdates":
            return 200, json.dumps({"ok": True, "result": await self._hand_out(params.get("offset"))}).encode()
        result: Any = True
        if call == "getMe":
            result = {"id": 4711, "is_bot": True, "first_name": "Bench", "username": "bench_bot"}
        if call == "sendMessage":
            result = self._take(int(params["chat_id"]), str(params["text"]))
        return 200, json.dumps({"ok": True, "result": result}).encode()

    async def _hand_out(self, offset: int | None) -> list[dict[str, Any]]:
        now = time.perf_counter()
        if self.began is None:
            self.began = now
        if offset is not None and self.batch and offset > max(u["n"] for u in self.batch):
            self.next += len(self.batch)
            self.batch = []
        upto = min(len(self.updates), self.next + 100)
        if self.rate is not None:
            while self.next < len(self.updates) and self.next >= (now - self.began) * self.rate:
                await asyncio.sleep(0.5 / self.rate)
                now = time.perf_counter()
            upto = min(upto, int((now - self.began) * self.rate) + 1)
        if self.next >= len(self.updates):
            await asyncio.sleep(0.02)
        self.batch = self.updates[self.next : upto]
        for update in self.batch:
            self.handed.setdefault(update["n"], time.perf_counter())
        return [{"update_id": update["n"], "message": update["message"]} for update in self.batch]

    def _take(self, chat: int, text: str) -> dict[str, Any]:
        self._messages += 1
        found = NUMBER.search(text)
        if found is not None:
            number = int(found[1])
            self.answers[chat].append(number)
            self.delays.append(time.perf_counter() - self.handed[number])
            if len(self.delays) >= self.wanted:
                self.ended = time.perf_counter()
                self.done.set()
        return {"message_id": self._messages, "date": 1, "chat": {"id": chat, "type": "supergroup"}, "text": text}

    def faults(self) -> tuple[int, int, int]:
        """Updates lost, answered more than once, and answered out of their order within a chat."""
        times = Counter(n for numbers in self.answers.values() for n in numbers)
        lost = self.wanted - len(times)
        order = sum(a > b for numbers in self.answers.values() for a, b in pairwise(numbers))
        return lost, sum(count > 1 for count in times.values()), order


def made(count: int, doubled: bool) -> list[dict[str, Any]]:
    """Updates in the order they are handed out; one in twenty again later, under its own number."""
    rng = random.Random(7)
    stream: list[dict[str, Any]] = []
    again: list[dict[str, Any]] = []
    for n in range(count):
        person = rng.randrange(PEOPLE)
        message = {
            "message_id": n + 1,
            "date": 1_790_000_000 + n // 5,
            "chat": {"id": -1000 - person % CHATS, "type": "supergroup", "title": "crew"},
            "from": {"id": 10_000 + person, "is_bot": False, "first_name": "Somebody"},
            "text": f"/note n{n} the tray is loose",
            "entities": [{"type": "bot_command", "offset": 0, "length": 5}],
        }
        stream.append({"n": n, "message": message})
        if doubled and n % 20 == 0:
            again.append(stream[-1])
        if again and n % 20 == 13:
            stream.append(again.pop())
    return stream


def crew(number: int, base: Kitchen) -> Kitchen:
    """One of the kitchens, with ten of the people."""
    from msgspec.structs import replace

    people = tuple(
        Person(f"p{k}", f"Person {k}", "cook", "en", telegram=10_000 + number + CHATS * k)
        for k in range(PEOPLE // CHATS)
    )
    return replace(base, name=f"Kitchen {number}", people=people, crew_chat=-1000 - number)


async def run_door(stub: Stub, helpers: list[Port]) -> None:
    bot = ExtBot(TOKEN, request=stub, get_updates_request=stub)
    door = Door(AddressBook(helpers), bot, clock, patience=Patience(), sleep=asyncio.sleep, jitter=random.random)
    stop = asyncio.Event()
    running = asyncio.create_task(door.run(stop))
    await _until(stub, running)
    stop.set()
    await running


async def run_echo(stub: Stub, _: list[Port], keep: Callable[[int, str], None] | None = None) -> None:
    """What a bare bot of the same library does: it answers with what was said, having kept it if ``keep`` is given."""

    async def echo(update: Update, context: ContextTypes.DEFAULT_TYPE) -> None:
        if keep is not None and update.effective_message is not None and update.effective_chat is not None:
            keep(update.effective_chat.id, update.effective_message.text or "")
        if update.effective_message is not None and update.effective_chat is not None:
            await context.bot.send_message(update.effective_chat.id, update.effective_message.text or "")

    builder = ApplicationBuilder().token(TOKEN).request(stub).get_updates_request(stub)
    application: Application[Any, Any, Any, Any, Any, Any] = builder.build()
    application.add_handler(MessageHandler(filters.TEXT, echo))
    await application.initialize()
    assert application.updater is not None
    await application.updater.start_polling(poll_interval=0.0)
    await application.start()
    await _until(stub, None)
    await application.updater.stop()
    await application.stop()
    await application.shutdown()


def keeping(folder: Path) -> Bot:
    """The echo bot that writes a line a message to a file a chat, and waits for the disk."""
    files: dict[int, int] = {}

    def keep(chat: int, text: str) -> None:
        if chat not in files:
            files[chat] = os.open(folder / f"{-chat}.jsonl", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        os.write(files[chat], json.dumps({"chat": chat, "text": text}).encode() + b"\n")
        os.fsync(files[chat])

    return lambda stub, helpers: run_echo(stub, helpers, keep)


async def _until(stub: Stub, running: asyncio.Task[Any] | None) -> None:
    """Until all is answered, or nothing more has come for ten seconds."""
    seen = -1
    while not stub.done.is_set() and len(stub.delays) != seen and not (running is not None and running.done()):
        seen = len(stub.delays)
        try:
            async with asyncio.timeout(10):
                await stub.done.wait()
        except TimeoutError:
            continue
    await asyncio.sleep(0.3)  # time for answers that should not come


def measure(
    name: str, bot: Bot, helpers: Callable[[], list[Port]], count: int, rate: float, doubled: bool
) -> tuple[float, float]:
    """Throughput (a second, of processor time as well) and p99 (seconds); prints them."""
    flood = Stub(made(count, doubled), None)
    cpu = time.process_time()
    asyncio.run(bot(flood, helpers()))
    cpu = time.process_time() - cpu
    each = flood.wanted / (flood.ended - (flood.began or 0.0)) if flood.ended else 0.0
    steady = Stub(made(min(count, int(rate * 15)), doubled), rate)
    asyncio.run(bot(steady, helpers()))
    p99 = statistics.quantiles(steady.delays, n=100)[98]
    print(
        f"{name:28} {each:8.0f}/s  ({flood.wanted / cpu:6.0f}/s of processor time)   p50 "
        f"{1000 * statistics.median(steady.delays):6.2f} ms  p99 {1000 * p99:6.2f} ms   lost, twice, out of order: "
        f"{flood.faults()} of {flood.wanted}, {steady.faults()} of {steady.wanted}"
    )
    return each, p99


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--updates", type=int, default=10_000)
    parser.add_argument("--whole", type=int, default=2_000)
    parser.add_argument("--rate", type=float, default=100.0)
    args = parser.parse_args()
    quiet_libraries()
    base = telegram_kit.kitchen()

    def echoing() -> list[Port]:
        helpers: list[Port] = []
        for number in range(CHATS):
            helper = telegram_kit.FakeHelper(crew(number, base))
            helpers.append(helper)
        return helpers

    print(
        f"{args.updates} updates, {PEOPLE} people, {CHATS} chats; steady at {args.rate:.0f}/s; {datetime.now(UTC):%F}"
    )
    make_ready([])
    echo = measure("bare echo bot", run_echo, list, args.updates, args.rate, doubled=False)
    door = measure("door, helper that echoes", run_door, echoing, args.updates, args.rate, doubled=True)
    print(f"{'  ratio':28} throughput {echo[0] / door[0]:.2f}x slower, p99 {door[1] / echo[1]:.2f}x")
    if not args.whole:
        return
    content, understander = load_content(), understander_of(base)
    with TemporaryDirectory() as folder:
        (Path(folder) / "echo").mkdir()
        echo_kept = keeping(Path(folder) / "echo")
        kept = measure("echo bot, a synced line each", echo_kept, list, args.whole, args.rate, doubled=False)
        runs = iter(range(1000))

        def whole() -> list[Port]:
            where = Path(folder) / str(next(runs))
            opened = [Helper.open(crew(n, base), content, understander, where / str(n), clock()) for n in range(CHATS)]
            make_ready(opened)
            return [*opened]

        all_ = measure("door, whole helpers", run_door, whole, args.whole, args.rate, doubled=True)
    for name, peer in (("bare echo bot", echo), ("synced echo bot", kept)):
        print(f"  to the {name:21} throughput {peer[0] / all_[0]:.2f}x slower, p99 {all_[1] / peer[1]:.2f}x")


if __name__ == "__main__":
    main()
