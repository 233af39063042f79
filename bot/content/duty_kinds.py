"""The kinds of duties there are, from ``duties.toml``."""

from __future__ import annotations

from pathlib import Path

from bot.content import places
from bot.content.fields import Table, flag, one_of, text
from bot.content.findings import ContentError, Finding
from bot.content.toml_lines import read_toml
from bot.core.library import DutyKind

SUPPLIES = ("filter_pads", "oil_jugs", "seals")
"""What a duty may use up. Seals are counted by colour in the kitchen file, as ``seals_<colour>``."""


def load_duty_kinds(path: Path = places.DUTIES) -> dict[str, DutyKind]:
    """The kinds by their ids. Raises ``ContentError`` with every fault of the file."""
    document = read_toml(path)
    findings: list[Finding] = []
    kinds = {}
    whole_file = Table(document, findings)
    for duty in document.data:
        table = whole_file.table(duty)
        if table is not None:
            kinds[duty] = DutyKind(
                id=duty,
                per_fryer=table.need("per_fryer", flag, True),
                guide=table.take("guide", text, None),
                uses=table.take("uses", one_of("supply", SUPPLIES), None),
            )
            table.finish()
    if findings:
        raise ContentError(findings)
    return kinds
