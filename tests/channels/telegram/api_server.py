"""A Bot API server for tests, on 127.0.0.1: written from the public API documentation, strict about its limits.

It keeps updates until they are confirmed by a higher offset, holds a request for updates until there are some, lets
only one such request wait at a time, and refuses what the documentation doesn't allow. Faults can be put in the way
of any method. Error descriptions that the documentation doesn't give are from memory.
"""

from __future__ import annotations

import asyncio
import json
import threading
from collections import defaultdict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from email import policy
from email.parser import BytesParser
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from types import TracebackType
from typing import Any, Self
from urllib.parse import parse_qsl, unquote

TOKEN = "4711:test-token-of-nobody"
BOT_ID = 4711
BOT_NAME = "vatside_test_bot"
PATIENCE = 30.0
"""Seconds after which a test that still waits has failed."""

PNG = b"\x89PNG\r\n\x1a\n"


@dataclass(frozen=True)
class Call:
    """One request as it arrived."""

    method: str
    params: dict[str, Any]
    files: dict[str, bytes]
    ok: bool


@dataclass(frozen=True)
class Fault:
    """What happens to a request instead of an answer, or (``carried_out``) after it was carried out.

    With ``hold`` the request is answered as usual, once that event is set.
    """

    status: int = 500
    body: dict[str, Any] | None = None
    drop: bool = False
    carried_out: bool = False
    hold: threading.Event | None = None


def too_many(retry_after: int) -> Fault:
    """429, with the seconds to wait."""
    description = f"Too Many Requests: retry after {retry_after}"
    return Fault(429, _error(429, description, parameters={"retry_after": retry_after}))


CONFLICT = Fault(
    409,
    {
        "ok": False,
        "error_code": 409,
        "description": "Conflict: terminated by other getUpdates request; one bot instance may run",
    },
)
DROPPED = Fault(drop=True)
DROPPED_AFTER = Fault(drop=True, carried_out=True)
SERVER_FAULT = Fault(502, None)


@dataclass
class Shown:
    """A message of the bot's as people see it now."""

    chat: int
    text: str | None
    caption: str | None
    photo: bytes | None
    keyboard: list[list[dict[str, Any]]] = field(default_factory=list)


class RefusedError(Exception):
    """An answer that isn't OK."""

    def __init__(self, status: int, description: str, **more: Any) -> None:
        super().__init__(description)
        self.status = status
        self.body = _error(status, description, **more)


def _error(status: int, description: str, **more: Any) -> dict[str, Any]:
    return {"ok": False, "error_code": status, "description": description, **more}


def units(text: str) -> int:
    """Length in UTF-16 units."""
    return len(text.encode("utf-16-le")) // 2


class ApiServer:
    """Used as a context manager; everything may be called from any thread."""

    def __init__(self, token: str = TOKEN) -> None:
        self.token = token
        self.calls: list[Call] = []
        self.messages: dict[tuple[int, int], Shown] = {}
        self.commands: dict[str, list[dict[str, str]]] = {}
        self.own_commands: dict[int, list[dict[str, str]]] = {}
        """Menus of single chats, by the chat's number."""
        self.files: dict[str, bytes] = {}
        self.voices: list[tuple[int, bytes]] = []
        """Voice notes that the bot sent: chat and sound."""
        self.blocked: set[int] = set()
        self.unknown_chats: set[int] = set()
        self.moved: dict[int, int] = {}
        self.webhook: dict[str, Any] | None = None
        self.closed_topics: set[int] = set()
        self.answers: list[tuple[str, str | None]] = []
        self._updates: list[dict[str, Any]] = []
        self._faults: dict[str, deque[Fault]] = defaultdict(deque)
        self._changed = threading.Condition()
        self._next_update = 100
        self._next_message = 1000
        self.held = 0
        self.holding = 0
        self.polls: list[dict[str, Any]] = []
        self._closing = False
        self._http = ThreadingHTTPServer(("127.0.0.1", 0), _handler(self))
        self._http.daemon_threads = True
        self._thread = threading.Thread(target=self._http.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)

    @property
    def base_url(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self._http.server_address[1]}"

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with self._changed:
            self._closing = True
            self._changed.notify_all()
        self._http.shutdown()
        self._http.server_close()

    # --- what people do ---

    def push(self, update: dict[str, Any]) -> int:
        """Queue an update as it is; gives its number, which is the next one where it has none."""
        with self._changed:
            number = update.get("update_id", self._next_update)
            self._next_update = max(self._next_update, number) + 1
            self._updates.append({"update_id": number, **update})
            self._changed.notify_all()
            return int(number)

    def say(self, user: int, text: str, chat: int | None = None, language: str = "en", **more: Any) -> int:
        """Somebody writes: in private, or in the group ``chat``."""
        return self.push({"message": self.message(user, chat, language, text=text, **more)})

    def tap(self, user: int, ref: str, data: str, language: str = "en") -> int:
        """Somebody presses a button of the message ``ref`` ("chat:message")."""
        chat, message = (int(part) for part in ref.split(":"))
        shown = {"message_id": message, "date": 1_700_000_000, "chat": self._chat(chat)}
        query = {"id": f"q{self._next_update}", "from": self._user(user, language), "message": shown,
                 "chat_instance": "1", "data": data}  # fmt: skip
        return self.push({"callback_query": query})

    def message(self, user: int, chat: int | None = None, language: str = "en", **more: Any) -> dict[str, Any]:
        """A message as the documentation describes it."""
        self._next_message += 1
        where = self._chat(user if chat is None else chat)
        return {"message_id": self._next_message, "date": 1_700_000_000, "chat": where,
                "from": self._user(user, language), **more}  # fmt: skip

    # --- what goes wrong ---

    def inject(self, method: str, *faults: Fault) -> None:
        """Put faults in the way of the next calls of a method, one each."""
        with self._changed:
            self._faults[method].extend(faults)

    # --- what a test looks at ---

    def of(self, method: str) -> list[Call]:
        """The accepted calls of a method so far, oldest first."""
        with self._changed:
            return [call for call in self.calls if call.method == method and call.ok]

    def texts(self, chat: int) -> list[str]:
        """What the bot's messages in a chat show now, oldest first."""
        with self._changed:
            return [s.text or s.caption or "" for (c, _), s in sorted(self.messages.items()) if c == chat]

    def waiting(self) -> int:
        """How many updates are not confirmed yet."""
        with self._changed:
            return len(self._updates)

    def wait(self, condition: Callable[[], bool]) -> None:
        """Wait until something holds; raises ``AssertionError`` with the calls so far if it never does."""
        with self._changed:
            if not self._changed.wait_for(condition, PATIENCE):
                raise AssertionError(f"still not so; calls: {[(c.method, c.params, c.ok) for c in self.calls]}")

    async def until(self, condition: Callable[[], bool]) -> None:
        """The same without holding up the event loop."""
        await asyncio.to_thread(self.wait, condition)

    # --- requests ---

    def take(self, method: str, params: dict[str, Any], files: dict[str, bytes]) -> tuple[int, Any] | None:
        """One request; gives status and body, or None for a connection that drops without an answer."""
        with self._changed:
            faults = self._faults[method]
            fault = faults.popleft() if faults else None
        if fault is not None and fault.hold is not None:
            with self._changed:
                self.held += 1
                self.holding += 1
                self._changed.notify_all()
            fault.hold.wait(PATIENCE)
            with self._changed:
                self.holding -= 1
            fault = None
        if fault is not None and not fault.carried_out:
            self._note(method, params, files, ok=False)
            return None if fault.drop else (fault.status, fault.body)
        try:
            result = self._carry_out(method, params, files)
        except RefusedError as refusal:
            self._note(method, params, files, ok=False)
            return refusal.status, refusal.body
        self._note(method, params, files, ok=True)
        return None if fault is not None else (200, {"ok": True, "result": result})

    def _note(self, method: str, params: dict[str, Any], files: dict[str, bytes], *, ok: bool) -> None:
        with self._changed:
            self.calls.append(Call(method, params, files, ok))
            self._changed.notify_all()

    def _carry_out(self, method: str, params: dict[str, Any], files: dict[str, bytes]) -> Any:
        match method:
            case "getMe":
                return {"id": BOT_ID, "is_bot": True, "first_name": "Test", "username": BOT_NAME}
            case "getUpdates":
                return self._get_updates(params)
            case "deleteWebhook":
                return self._delete_webhook(params)
            case "setWebhook":
                if not str(params.get("url", "")).startswith("https://"):
                    raise RefusedError(400, "Bad Request: bad webhook: An HTTPS URL must be provided for webhook")
                self.webhook = params
                return True
            case "sendChatAction":
                return True
            case "setMyCommands":
                return self._set_my_commands(params)
            case "deleteMyCommands":
                return self._delete_my_commands(params)
            case "getFile":
                return self._get_file(params)
            case "answerCallbackQuery":
                return self._answer(params)
            case "sendMessage":
                self._check_text(params.get("text", ""), 4096, "message text is empty", "message is too long")
                return self._show(params, Shown(0, params["text"], None, None))
            case "sendPhoto":
                return self._send_photo(params, files)
            case "sendVoice":
                return self._send_voice(params, files)
            case "editMessageText":
                return self._edit(params, text=params.get("text", ""))
            case "editMessageReplyMarkup":
                return self._edit(params, text=None)
            case _:
                raise RefusedError(404, "Not Found: method not found")

    def _get_updates(self, params: dict[str, Any]) -> list[dict[str, Any]]:
        limit, hold = int(params.get("limit", 100)), float(params.get("timeout", 0))
        if self.webhook is not None:
            raise RefusedError(409, "Conflict: can't use getUpdates method while webhook is active")
        with self._changed:
            if "offset" in params:
                self._updates = [u for u in self._updates if u["update_id"] >= int(params["offset"])]
            self.polls.append(params)
            mine = len(self.polls)
            self._changed.notify_all()
            self._changed.wait_for(lambda: bool(self._updates) or self._closing or len(self.polls) != mine, hold)
            if len(self.polls) != mine:
                raise RefusedError(409, "Conflict: terminated by other getUpdates request")
            return sorted(self._updates, key=lambda u: int(u["update_id"]))[:limit]

    def _delete_webhook(self, params: dict[str, Any]) -> bool:
        self.webhook = None
        if params.get("drop_pending_updates") in (True, "true"):
            with self._changed:
                self._updates.clear()
        return True

    def _set_my_commands(self, params: dict[str, Any]) -> bool:
        commands = params["commands"]
        if len(commands) > 100:
            raise RefusedError(400, "Bad Request: too many commands")
        for command in commands:
            name = command["command"]
            if not 1 <= len(name) <= 32 or not set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789_"):
                raise RefusedError(400, "Bad Request: BOT_COMMAND_INVALID")
            if not 1 <= len(command["description"]) <= 256:
                raise RefusedError(400, "Bad Request: BOT_COMMAND_DESCRIPTION_INVALID")
        with self._changed:
            if (scope := params.get("scope") or {}).get("type") == "chat":
                self.own_commands[int(scope["chat_id"])] = commands
            else:
                self.commands[params.get("language_code", "")] = commands
        return True

    def _delete_my_commands(self, params: dict[str, Any]) -> bool:
        with self._changed:
            self.own_commands.pop(int(params["scope"]["chat_id"]), None)
        return True

    def _get_file(self, params: dict[str, Any]) -> dict[str, Any]:
        name = params["file_id"]
        if name not in self.files:
            raise RefusedError(400, "Bad Request: invalid file_id")
        if len(self.files[name]) > 20 * 1024 * 1024:
            raise RefusedError(400, "Bad Request: file is too big")
        return {"file_id": name, "file_unique_id": name, "file_path": f"voice/{name}"}

    def _answer(self, params: dict[str, Any]) -> bool:
        text = params.get("text")
        if text is not None and len(text) > 200:
            raise RefusedError(400, "Bad Request: MESSAGE_TOO_LONG")
        with self._changed:
            self.answers.append((params["callback_query_id"], text))
        return True

    def _send_photo(self, params: dict[str, Any], files: dict[str, bytes]) -> dict[str, Any]:
        photo = next(iter(files.values()), b"")
        if not photo.startswith(PNG):
            raise RefusedError(400, "Bad Request: IMAGE_PROCESS_FAILED")
        caption = params.get("caption")
        if caption is not None and units(caption) > 1024:
            raise RefusedError(400, "Bad Request: message caption is too long")
        return self._show(params, Shown(0, None, caption, photo))

    def _send_voice(self, params: dict[str, Any], files: dict[str, bytes]) -> dict[str, Any]:
        sound = next(iter(files.values()), b"")
        if not sound.startswith(b"OggS"):
            raise RefusedError(400, "Bad Request: can't use file of type Document as Voice")
        self.voices.append((int(params["chat_id"]), sound))
        return self._show(params, Shown(0, None, None, None))

    def _show(self, params: dict[str, Any], shown: Shown) -> dict[str, Any]:
        shown.chat = int(params["chat_id"])
        shown.keyboard = self._keyboard(params)
        if shown.chat in self.moved:
            new = self.moved[shown.chat]
            raise RefusedError(400, "Bad Request: group chat was upgraded to a supergroup chat",
                          parameters={"migrate_to_chat_id": new})  # fmt: skip
        if shown.chat in self.blocked:
            raise RefusedError(403, "Forbidden: bot was blocked by the user")
        if int(params.get("message_thread_id") or 0) in self.closed_topics:
            raise RefusedError(400, "Bad Request: message thread not found")
        if shown.chat in self.unknown_chats:
            raise RefusedError(400, "Bad Request: chat not found")
        with self._changed:
            self._next_message += 1
            self.messages[shown.chat, self._next_message] = shown
            return self._as_sent(shown, self._next_message)

    def _edit(self, params: dict[str, Any], *, text: str | None) -> dict[str, Any]:
        chat, number = int(params["chat_id"]), int(params["message_id"])
        keyboard = self._keyboard(params)
        with self._changed:
            shown = self.messages.get((chat, number))
            if shown is None:
                raise RefusedError(400, "Bad Request: message to edit not found")
            if text is not None:
                self._check_text(text, 4096, "message text is empty", "message is too long")
                if shown.text is None:
                    raise RefusedError(400, "Bad Request: there is no text in the message to edit")
            if (text is None or text == shown.text) and keyboard == shown.keyboard:
                raise RefusedError(400, "Bad Request: message is not modified: specified new message content and reply "
                                   "markup are exactly the same as a current content")  # fmt: skip
            shown.text = shown.text if text is None else text
            shown.keyboard = keyboard
            return self._as_sent(shown, number)

    def _as_sent(self, shown: Shown, number: int) -> dict[str, Any]:
        sender = {"id": BOT_ID, "is_bot": True, "first_name": "Test", "username": BOT_NAME}
        return {"message_id": number, "date": 1_700_000_000, "chat": self._chat(shown.chat), "from": sender,
                "text": shown.text or ""}  # fmt: skip

    @staticmethod
    def _check_text(text: str, most: int, empty: str, long: str) -> None:
        if not text.strip():
            raise RefusedError(400, f"Bad Request: {empty}")
        if units(text) > most:
            raise RefusedError(400, f"Bad Request: {long}")

    @staticmethod
    def _keyboard(params: dict[str, Any]) -> list[list[dict[str, Any]]]:
        rows: list[list[dict[str, Any]]] = (params.get("reply_markup") or {}).get("inline_keyboard", [])
        for button in (button for row in rows for button in row):
            if not button.get("text", "").strip():
                raise RefusedError(400, "Bad Request: can't parse inline keyboard button: text must be non-empty")
            if not 1 <= len(button.get("callback_data", "").encode()) <= 64:
                raise RefusedError(400, "Bad Request: BUTTON_DATA_INVALID")
        return rows

    @staticmethod
    def _chat(chat: int) -> dict[str, Any]:
        return {"id": chat, "type": "private"} if chat > 0 else {"id": chat, "type": "supergroup", "title": "crew"}

    @staticmethod
    def _user(user: int, language: str) -> dict[str, Any]:
        return {"id": user, "is_bot": False, "first_name": "Somebody", "language_code": language}


_JSON_PARAMS = ("reply_markup", "commands", "allowed_updates", "link_preview_options", "scope", "entities")


def _parameters(kind: str, body: bytes) -> tuple[dict[str, Any], dict[str, bytes]]:
    params: dict[str, Any] = {}
    files: dict[str, bytes] = {}
    if kind.startswith("multipart/form-data"):
        head = f"Content-Type: {kind}\r\n\r\n".encode()
        for part in BytesParser(policy=policy.HTTP).parsebytes(head + body).iter_parts():
            name = part.get_param("name", header="content-disposition")
            content = part.get_payload(decode=True)
            assert isinstance(name, str) and isinstance(content, bytes)
            if part.get_filename() is None:
                params[name] = content.decode()
            else:
                files[name] = content
    elif kind.startswith("application/json"):
        params = json.loads(body)
    else:
        params = dict(parse_qsl(body.decode(), keep_blank_values=True))
    for name in _JSON_PARAMS:
        if isinstance(params.get(name), str):
            params[name] = json.loads(params[name])
    return params, files


def _handler(server: ApiServer) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
            token, _, method = self.path.removeprefix("/bot").partition("/")
            if token != server.token:
                self._reply(401, json.dumps(_error(401, "Unauthorized")).encode())
                return
            answer = server.take(method, *_parameters(self.headers.get("Content-Type", ""), body))
            if answer is None:
                self.close_connection = True
                self.connection.close()
                return
            status, result = answer
            self._reply(status, b"<html>fault</html>" if result is None else json.dumps(result).encode())

        def do_GET(self) -> None:
            name = unquote(self.path).removeprefix(f"/file/bot{server.token}/voice/")
            content = server.files.get(name)
            self._reply(404 if content is None else 200, content or b"")

        def _reply(self, status: int, body: bytes) -> None:
            try:
                self.send_response(status)
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)
            except ConnectionError:
                self.close_connection = True  # the caller didn't wait for its answer

        def log_message(self, format: str, *args: Any) -> None:
            """Quiet."""

    return Handler
