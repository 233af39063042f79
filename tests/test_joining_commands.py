"""The commands that let people in: a link at the terminal, stickers for the fryers, and letting go of who joined."""

from __future__ import annotations

import io
import json
import re
import stat
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from bot.app import Helper, clock
from bot.cli import main
from bot.commands.loading import kitchen_of, opener
from bot.core.messages import Arrived
from bot.core.state import FOLD_VERSION, State
from bot.store import read_only

sys.path.append(str(Path(__file__).parent / "channels" / "telegram"))

from api_server import BOT_NAME, TOKEN, ApiServer

PHONE = 987_654_321
LINK = re.compile(r"https://t\.me/(\w+)\?start=j_([A-Za-z0-9_-]{22,})")
STICKER = (92 / 25.4, 122 / 25.4)
"""Inches of one sticker as it is printed."""


def opened(store: Path) -> Helper:
    return opener(kitchen_of(None), store)(clock())


def joined(store: Path, out: str, name: str = "Anabel", phone: int = PHONE) -> Helper:
    """Somebody comes by the link that was printed."""
    match = LINK.search(out)
    assert match is not None, out
    helper = opened(store)
    helper.happens(Arrived(match[2], phone, name, "en", False), clock())
    return helper


# --- invite ---


def test_the_first_manager_comes_in_by_a_link_made_at_the_computer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = tmp_path / "store"
    assert main(["invite", "--store", str(store), "--bot", "lantern_bot"]) == 0
    out = capsys.readouterr().out
    helper = joined(store, out)
    person = helper.kitchen.person("anabel")
    helper.close()
    assert person is not None and (person.role, person.telegram) == ("manager", PHONE)
    match = LINK.search(out)
    assert match is not None and match[2] not in (store / "history.jsonl").read_text()


def test_a_link_by_name_is_that_persons_and_their_old_phone_is_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = tmp_path / "store"
    assert main(["invite", "--store", str(store), "--bot", "@lantern_bot", "--name", "Omar"]) == 0
    out = capsys.readouterr().out
    assert "The old phone of Omar is out" in out
    helper = opened(store)
    assert helper.kitchen.person("omar").telegram is None  # type: ignore[union-attr]
    helper.close()
    helper = joined(store, out)
    assert helper.kitchen.person("omar").telegram == PHONE  # type: ignore[union-attr]
    helper.close()


def test_the_square_in_the_terminal_and_the_one_in_the_picture_say_the_link(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    picture = tmp_path / "link.png"
    args = ["invite", "--store", str(tmp_path / "store"), "--bot", "lantern_bot"]
    assert main([*args, "--out", str(picture)]) == 0
    out = capsys.readouterr().out
    assert stat.S_IMODE(picture.stat().st_mode) == 0o600  # whoever sees it gets in by it
    (read,) = zxingcpp.read_barcodes(Image.open(picture))
    assert read.text in out and LINK.fullmatch(read.text)
    assert main(args) == 0
    lines = capsys.readouterr().out.split("\n")
    blocks = [line for line in lines if set(line) <= set("█▀▄ ") and line.strip()]
    (again,) = zxingcpp.read_barcodes(_as_picture(blocks))
    assert again.text in "\n".join(lines)


def _as_picture(blocks: list[str]) -> Image.Image:
    """What a terminal with light letters on a dark ground shows; each letter is two squares, one above the other."""
    halves = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}
    width = max(map(len, blocks))
    picture = Image.new("L", (width, 2 * len(blocks)), 0)
    for y, line in enumerate(blocks):
        for x, sign in enumerate(line.ljust(width)):
            for half in (0, 1):
                picture.putpixel((x, 2 * y + half), halves[sign][half])
    return picture.resize((picture.width * 6, picture.height * 6), Image.Resampling.NEAREST)


def test_a_helper_that_is_running_is_named_as_the_reason(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    helper = opened(tmp_path)
    assert main(["invite", "--store", str(tmp_path), "--bot", "lantern_bot"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "the helper is running" in line and "/invite" in line
    helper.close()


def test_the_bots_name_is_asked_of_the_server_where_it_is_not_given(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    args = ["invite", "--store", str(tmp_path / "store")]
    monkeypatch.delenv("VATSIDE_TELEGRAM_TOKEN", raising=False)
    assert main(args) == 2
    assert "give --bot NAME" in capsys.readouterr().err
    with ApiServer() as server:
        monkeypatch.setenv("VATSIDE_TELEGRAM_TOKEN", TOKEN)
        monkeypatch.setenv("VATSIDE_TELEGRAM_BASE_URL", server.base_url)
        assert main(args) == 0
        assert f"t.me/{BOT_NAME}?start=" in capsys.readouterr().out
        monkeypatch.setenv("VATSIDE_TELEGRAM_TOKEN", "4711:another")
        assert main(args) == 2
        err = capsys.readouterr().err
    assert err.count("\n") == 1 and "another" not in err


@pytest.mark.parametrize(
    ("more", "what"), [(["--bot", "no bot"], "no bot's name"), (["--bot", "lantern_bot", "--name", "zoe"], "'zoe'")]
)
def test_what_can_not_be_invited_is_one_line_and_leaves_no_link(
    more: list[str], what: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["invite", "--store", str(tmp_path / "store"), *more]) == 2
    err = capsys.readouterr().err
    assert what in err and err.count("\n") == 1


# --- forgetting who joined ---


def test_somebody_who_joined_is_forgotten_with_name_and_number(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = tmp_path / "store"
    main(["invite", "--store", str(store), "--bot", "lantern_bot", "--role", "cook"])
    helper = joined(store, capsys.readouterr().out)
    now = clock() + timedelta(seconds=1)
    said = helper.hear("anabel", "anabel", "pad changed on 2", now)
    for message in said:
        helper.delivered(message.number, f"{PHONE}:7", now)
    helper.tap("omar", "omar", "person:anabel", now)
    helper.close()
    assert main(["forget", "anabel", "--store", str(store)]) == 0
    assert "anabel is now gone-1" in capsys.readouterr().out
    kept = b"".join(path.read_bytes() for path in store.rglob("*") if path.is_file()).decode(errors="replace")
    for trace in ("Anabel", "anabel", str(PHONE)):
        assert trace not in kept
    helper = opened(store)
    assert [p.id for p in helper.kitchen.people] == [p.id for p in kitchen_of(None).people]
    helper.close()
    assert main(["export", "--store", str(store)]) == 0
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [row["by"] for row in rows if row["kind"] == "confirmation"] == ["gone-1"]


def test_the_export_says_who_came_and_went_without_numbers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    store = tmp_path / "store"
    main(["invite", "--store", str(store), "--bot", "lantern_bot", "--role", "cook"])
    helper = joined(store, capsys.readouterr().out)
    now = clock() + timedelta(seconds=1)
    helper.tap("omar", "omar", "role:lead:anabel", now)
    helper.tap("omar", "omar", "removed:anabel", now)
    helper.close()
    assert main(["export", "--store", str(store)]) == 0
    out = capsys.readouterr().out
    rows = [json.loads(line) for line in out.splitlines()]
    people = [(r["what"], r["person"], r["role"], r["by"]) for r in rows if r["kind"] == "person"]
    assert people == [
        ("joined", "anabel", "cook", "anabel"),
        ("role", "anabel", "lead", "omar"),
        ("left", "anabel", None, "omar"),
    ]
    assert str(PHONE) not in out


def test_an_archive_of_a_month_names_who_joined(tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    store = tmp_path / "store"
    main(["invite", "--store", str(store), "--bot", "lantern_bot", "--role", "cook"])
    helper = joined(store, capsysbinary.readouterr().out.decode())
    now = clock() + timedelta(seconds=1)
    helper.hear("anabel", "anabel", "pad changed on 2", now)
    helper.close()
    state = read_only(store, State, fold_version=FOLD_VERSION).state
    assert state.membership.joined["anabel"].name == "Anabel"
    zone = datetime.now(UTC).strftime("%Y-%m")
    assert main(["report", "--store", str(store), "--month", zone]) == 0
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(capsysbinary.readouterr().out)).pages)
    assert "Anabel" in text or "pad change" not in text


# --- stickers ---


@pytest.mark.parametrize(("paper", "points"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_stickers_are_read_back_at_the_size_they_are_printed(
    paper: str, points: tuple[int, int], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "stickers.pdf"
    assert main(["stickers", "--bot", "lantern_street_helper_bot", "--out", str(file), "--paper", paper]) == 0
    assert "3 stickers" in capsys.readouterr().out
    page = PdfReader(file).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == points
    text = page.extract_text()
    assert "Fryer 2" in text and "Freidora 2" in text and "falafel fryer" in text and "Escanea" in text
    for dpi in (72, 150, 300):
        shown = pypdfium2.PdfDocument(file)[0].render(scale=dpi / 72).to_pil()
        read = {code.text for code in zxingcpp.read_barcodes(shown)}
        assert read == {f"https://t.me/lantern_street_helper_bot?start=f_{n}" for n in (1, 2, 3)}, dpi


def test_a_code_with_a_tenth_of_it_covered_is_still_read(tmp_path: Path) -> None:
    file = tmp_path / "stickers.pdf"
    assert main(["stickers", "--bot", "lantern_bot", "--out", str(file)]) == 0
    shown = pypdfium2.PdfDocument(file)[0].render(scale=150 / 72).to_pil()
    (code,) = [c for c in zxingcpp.read_barcodes(shown) if c.text.endswith("f_1")]
    corner, far = code.position.top_left, code.position.bottom_right
    side = far.x - corner.x
    spot = Image.new("RGB", (int(side * 0.3), int(side * 0.3)), "white")
    shown.paste(spot, (corner.x + int(side * 0.4), corner.y + int(side * 0.4)))
    assert "https://t.me/lantern_bot?start=f_1" in {c.text for c in zxingcpp.read_barcodes(shown)}


def test_forty_fryers_with_long_names_fit_on_their_stickers(tmp_path: Path) -> None:
    kitchen = (Path(__file__).parents[1] / "demo_store" / "kitchen.toml").read_text()
    more = "".join(
        f'\n[[fryers]]\nid = "doughnut-{n}"\nnames = ["the long doughnut fryer at the far end of line {n}"]\n'
        'power = "electric"\n'
        for n in range(4, 41)
    )
    mine = tmp_path / "kitchen.toml"
    mine.write_text(kitchen + more)
    file = tmp_path / "stickers.pdf"
    assert main(["stickers", "--kitchen", str(mine), "--bot", "b" * 32, "--out", str(file), "--paper", "a4"]) == 0
    pages = pypdfium2.PdfDocument(file)
    assert len(pages) == 10
    read = {code.text for page in pages for code in zxingcpp.read_barcodes(page.render(scale=150 / 72).to_pil())}
    assert len(read) == 40
