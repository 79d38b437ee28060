"""The record of ten years, as the commands would have left it: mails, answers, attempts, what was read; invented."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path

from pipeline.record.attempts import COLUMNS
from pipeline.record.model import AGENDA, FOLDER, LEDGER, REPLIES_READ

FIRST, DAYS = dt.date(2017, 1, 1), 3650
LETTERS = ("A", "B")


def write_record(folder: Path, mails: int, partners: int = 100) -> Path:
    """`record/` in a folder, with a ledger of so many mails, two slots each; the folder itself."""
    record = folder / FOLDER
    record.mkdir(parents=True)
    (record / LEDGER).write_text("".join(_ledger(mails, partners)), "utf-8")
    (record / AGENDA).write_text("slots:\n" + "".join(_agenda(mails, partners)), "utf-8")
    (record / "attempts.csv").write_text(",".join(COLUMNS) + "\n" + "".join(_attempts(mails, partners)), "utf-8")
    (record / REPLIES_READ).write_text("".join(f"{mail:064x}\n" for mail in range(mails)), "ascii")
    return folder


def _mails(mails: int, partners: int) -> Iterator[tuple[int, str, dt.date]]:
    for mail in range(mails):
        yield mail, f"Q{mail % partners:03d}AB", FIRST + dt.timedelta(days=mail * DAYS // mails)


def _ledger(mails: int, partners: int) -> Iterator[str]:
    told = {
        "home_mhz": 10368.1, "partner_mhz": 10368.09, "mode": "Q65, 60 s periods", "opener": "QM7TOR",
        "meet": "chat room", "listen_hz": [-1200.0, -1300.0], "send_hz": [-1200.0, -1300.0],
    }  # fmt: skip
    for mail, call, day in _mails(mails, partners):
        slots = [
            {
                "uid": f"qm7tor-{call.lower()}-3cm-{day:%Y-%m}-{letter.lower()}-{mail:016x}@mutual-moon.invalid",
                "sequence": 0, "label": letter, "operator": "QM7TOR", "start_utc": f"{day}T{19 + place}:00:00Z",
                "end_utc": f"{day}T{20 + place}:00:00Z", "state": "proposed", "stamp": f"{day}T10:00:00Z",
                "content": f"{mail:064x}", "told": told,
                "alternatives": [{"label": "C", "start_utc": f"{day}T21:00:00Z", "end_utc": f"{day}T22:00:00Z"}],
            }
            for place, letter in enumerate(LETTERS)
        ]  # fmt: skip
        known = {"message_id": f"<{mail}@mutual-moon.invalid>", "stamp": f"{day}T10:00:00+00:00"}
        about = {
            "partner": call, "to": f"{call.lower()}@post.example", "subject": "Moon", "kind": "first",
            "digest": f"{mail:064x}", "period": f"{day:%Y-%m}", "slots": slots, "withdrawn": [], "copy": f"{mail}.eml",
        }  # fmt: skip
        yield json.dumps({"event": "sending"} | known | about) + "\n"
        yield json.dumps({"event": "sent"} | known | {"words": "250 taken"}) + "\n"


def _agenda(mails: int, partners: int) -> Iterator[str]:
    for _, call, day in _mails(mails, partners):
        for place, letter in enumerate(LETTERS):
            yield (
                f"  - {{partner: {call}, label: {letter}, start: {day}T{19 + place}:00Z, end: {day}T{20 + place}:00Z, "
                f"state: confirmed, operator: QM7TOR, answered: {day}T08:15Z, outcome: made}}\n"
            )


def _attempts(mails: int, partners: int) -> Iterator[str]:
    for _, call, day in _mails(mails, partners):
        for place in range(len(LETTERS)):
            cells = dict.fromkeys(COLUMNS, "") | {
                "call": call, "operator": "QM7TOR", "time_utc": f"{day}T{19 + place}:20:00Z", "band": "3cm",
                "frequency_mhz": "10368.1", "mode": "Q65", "report_sent": "-12", "report_sent_db": "-12",
                "completed": "yes", "slot_start_utc": f"{day}T{19 + place}:00:00Z",
                "slot_end_utc": f"{day}T{20 + place}:00:00Z", "periods_tried_at_home": "30",
            }  # fmt: skip
            yield ",".join(cells.values()) + "\n"
