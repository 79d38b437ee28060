"""A season's folder with letters that are ready to go: small hand-made mails, as `letters` lays them out."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import dataclass
from email.message import EmailMessage
from email.policy import SMTP
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.record.inputs import read_inputs
from pipeline.reports.tables import inputs_of
from pipeline.windows.span import Span, make_span, plan_number
from tests.inputs.helpers import HOME, PARTNER, SEASON

SENDER = "ines@basalt-tor.example"
CALLS = ("QF4LUM", "QJ2KAW", "QZ5KAR")
PERIOD = "2027-03"


def address(call: str) -> str:
    return f"{call.lower()}@post.example"


def uid(call: str, label: str) -> str:
    return f"qm7tor-{call.lower()}-3cm-{PERIOD}-{label.lower()}@mutual-moon.invalid"


def slot(call: str, label: str = "A", day: int = 13, sequence: int = 0, state: str = "proposed") -> dict[str, Any]:
    """An hour from 01:15 UTC on a day of the month."""
    return {
        "uid": uid(call, label), "sequence": sequence, "label": label, "operator": "QM7TOR", "state": state,
        "start_utc": f"2027-03-{day:02d}T01:15:00Z", "end_utc": f"2027-03-{day:02d}T02:15:00Z",
    }  # fmt: skip


@dataclass
class SeasonFolder:
    """Where everything stands."""

    root: Path

    @property
    def folder(self) -> Path:
        return self.root / "stations"

    @property
    def season(self) -> Path:
        return self.folder / "season.yaml"

    @property
    def out(self) -> Path:
        return self.root / "out"

    @property
    def ledger(self) -> Path:
        return self.folder / "record" / "sent.jsonl"

    @property
    def agenda(self) -> Path:
        return self.folder / "record" / "agenda.yaml"

    @property
    def period(self) -> Span:
        inputs = read_inputs(self.season)
        return make_span(inputs.season, ZoneInfo("America/Montevideo"), dt.date(2027, 1, 1))

    @property
    def number(self) -> str:
        return plan_number(read_inputs(self.season), self.period)

    def entries(self) -> list[dict[str, Any]]:
        """The ledger's lines."""
        return [json.loads(line) for line in self.ledger.read_text(encoding="utf-8").splitlines()]

    def plan(self) -> None:
        """What `plan` leaves behind and `send` looks at."""
        data = self.out / PERIOD / "data"
        data.mkdir(parents=True, exist_ok=True)
        run = {"inputs": inputs_of(read_inputs(self.season))}
        (data / "run.json").write_text(json.dumps(run), encoding="utf-8")

    def letter(
        self, call: str, *slots: dict[str, Any], stem: str = "letter", text: str = "Dear friend", to: str | None = None
    ) -> None:
        """One partner's mail and what is said about it."""
        folder = self.out / PERIOD / "letters" / call.replace("/", "-")
        folder.mkdir(parents=True, exist_ok=True)
        to = address(call) if to is None else to
        message = EmailMessage(policy=SMTP.clone(cte_type="7bit"))
        message["From"] = f"Ines Calder <{SENDER}>"
        message["To"] = to or "nobody@post.example"
        message["Subject"] = "Moon contact with QM7TOR"
        message["Date"] = "Sun, 01 Mar 2026 00:00:00 +0000"
        message["Message-ID"] = f"<{stem}-{call.lower().replace('/', '-')}@basalt-tor.example>"
        # A line that is only a dot, one that begins with a dot, and letters beyond ASCII.
        message.set_content(f"{text}\n.\n..two\n.hidden Grüße\n" + "x" * 70 + "\n")
        content = {
            "plan": self.number,
            "partner": call,
            "to": to,
            "subject": "Moon contact with QM7TOR",
            "content_digest": hashlib.sha256(f"{text}{slots}{to}".encode()).hexdigest(),
            "kind": "withdrawal" if stem == "withdrawal" else "first",
            "slots": [] if stem == "withdrawal" else list(slots),
            "withdrawn": list(slots) if stem == "withdrawal" else [],
        }
        (folder / f"{stem}.json").write_text(json.dumps(content), encoding="utf-8")
        (folder / "message.txt").write_text("hello", encoding="utf-8")
        if to:
            (folder / f"{stem}.eml").write_bytes(message.as_bytes())


def lay_out(root: Path, calls: tuple[str, ...] = CALLS) -> SeasonFolder:
    """Stations, a season of these partners, and a plan of it."""
    made = SeasonFolder(root)
    made.folder.mkdir()
    (made.folder / "qm7tor.yaml").write_text(HOME, encoding="utf-8")
    wishes = "\n".join(f"  - {{call: {call}}}" for call in calls)
    made.season.write_text(
        SEASON.replace("  - {call: QF4LUM, contacts_wanted: 1, priority: 2}", wishes), encoding="utf-8"
    )
    for call in calls:
        text = PARTNER.replace("call: QF4LUM", f"call: {call}\nemail: {address(call)}")
        (made.folder / f"{call.lower().replace('/', '-')}.yaml").write_text(text, encoding="utf-8")
    made.plan()
    return made
