"""The record of ten years read by the program, and by the parsers of JSON and YAML alone."""

from __future__ import annotations

import json
from pathlib import Path

import yaml

from pipeline.record.attempts import remembered
from pipeline.record.reading import read_record


def ours(folder: str) -> dict[str, float]:
    """All that a command reads, and what a review remembers."""
    made = read_record(Path(folder), None, "QM7TOR", [])
    assert not made.faults
    return {"mails": float(len(made.ledger.messages)), "attempts": float(len(remembered(Path(folder))))}


def parsers(folder: str) -> dict[str, float]:
    """Lines to objects and events, and nothing asked of them."""
    record = Path(folder) / "record"
    entries = [json.loads(line) for line in (record / "sent.jsonl").read_text("utf-8").splitlines()]
    events = sum(1 for _ in yaml.parse((record / "agenda.yaml").read_text("utf-8"), Loader=yaml.CBaseLoader))
    return {"mails": len(entries) / 2.0, "events": float(events)}
