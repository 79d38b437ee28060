"""Two months of eight partners, half by mail, half by chat: in the end record and every partner's calendar agree.

What a partner's calendar holds is read by the library icalendar from the mails that the server took, by the rules of
RFC 5546 (2.1.4, 2.1.5): of one identifier the greatest SEQUENCE, then the latest DTSTAMP counts, a CANCEL takes it out.
"""

from __future__ import annotations

import csv
import datetime as dt
import email
import email.policy
import io
import re
import shutil
import sys
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import icalendar
import pytest

from pipeline.cli import run
from pipeline.letters.holding import held_by
from pipeline.record.inputs import read_inputs
from pipeline.record.ledger import read_ledger
from pipeline.reports.places import demo_folder
from tests.letters.post_office import PostOffice, running
from tests.letters.test_post_chain import answered

BY_CHAT = ("QJ2KAW", "QZ5KAR", "QK3RED", "QT8NUI")
BY_MAIL = ("QF4LUM", "QN1PIK", "QG8FEN", "QX6ICE")
MONTHS = ("2027-03", "2027-05")

Stretch = tuple[dt.datetime, dt.datetime]


@dataclass
class Calendar:
    """One partner's calendar: by identifier the newest object, None for one that was taken back."""

    newest: dict[str, tuple[int, dt.datetime, Stretch | None]] = field(default_factory=dict)

    def take(self, raw: bytes) -> bool:
        """All calendar parts of a mail, attached files too; whether something is asked in it."""
        asks = False
        message = email.message_from_bytes(raw, policy=email.policy.default)
        for part in message.walk():
            if part.get_content_type() != "text/calendar":
                continue
            calendar = icalendar.Calendar.from_ical(part.get_payload(decode=True))
            if str(calendar["METHOD"]) == "PUBLISH":
                continue
            for event in calendar.walk("VEVENT"):
                order = int(event["SEQUENCE"]), event["DTSTAMP"].dt
                times = None if str(calendar["METHOD"]) == "CANCEL" else (event["DTSTART"].dt, event["DTEND"].dt)
                known = self.newest.get(str(event["UID"]))
                assert known is None or order >= known[:2] or known[2] == times, "an older object came later"
                self.newest[str(event["UID"])] = (*order, times)
                asks |= times is not None
        return asks

    def drop(self, reply: bytes) -> None:
        """Who says no has it in its own calendar no more."""
        message = email.message_from_bytes(reply, policy=email.policy.default)
        (event,) = icalendar.Calendar.from_ical(message.get_payload(decode=True)).walk("VEVENT")
        sequence, stamp, _ = self.newest[str(event["UID"])]
        self.newest[str(event["UID"])] = (sequence, stamp, None)

    @property
    def held(self) -> set[Stretch]:
        """What stands in it."""
        return {times for _, _, times in self.newest.values() if times is not None}


@dataclass
class Play:
    """The operator's folder, its commands, and what each partner holds."""

    root: Path
    monkeypatch: pytest.MonkeyPatch
    capsys: pytest.CaptureFixture[str]
    office: PostOffice
    seen: int = 0
    month: str = MONTHS[0]
    calendars: dict[str, Calendar] = field(default_factory=lambda: {call: Calendar() for call in BY_MAIL})
    mails: dict[str, bytes] = field(default_factory=dict)

    @property
    def season(self) -> Path:
        return self.root / "stations" / "season.yaml"

    def type(self, *words: str, code: int = 0) -> str:
        """Types a command, with the month where it takes one."""
        self.monkeypatch.setattr(sys, "argv", ["mutual-moon", *words])
        found = run()
        printed = self.capsys.readouterr()
        assert found == code, f"{words}: {printed.out}{printed.err}"
        return printed.out

    def round(self) -> None:
        """Plans, writes and sends everything: by mail, and by hand where there is no address."""
        self.type("plan", "--no-pdf", "--month", self.month)
        told = self.type("letters", "--no-pdf", "--month", self.month)
        # What is to be typed next is about the same month.
        lines = [one for one in told.splitlines() if re.search("mutual-moon (send|answer)", one)]
        assert lines
        assert all(one.endswith(f" --month {self.month}") for one in lines)
        self.type("send", "--yes", "--month", self.month)
        self.type("send", "--by-hand", *BY_CHAT, "--way", "chat", "--month", self.month)
        for _, (address,), raw in self.office.taken[self.seen :]:
            call = next(call for call in BY_MAIL if address == self.address(call))
            if self.calendars[call].take(raw):
                self.mails[call] = raw
        self.seen = len(self.office.taken)

    def address(self, call: str) -> str:
        return str(read_inputs(self.season).partner(call).email)

    def agenda(self, call: str) -> dict[str, Stretch]:
        """The slots of the plan on disk by letter."""
        file = self.root / "out" / self.month / "data" / "agenda.csv"
        rows = csv.DictReader(io.StringIO(file.read_text("utf-8")))
        return {
            row["label"]: (
                dt.datetime.fromisoformat(row["slot_start_utc"]),
                dt.datetime.fromisoformat(row["slot_end_utc"]),
            )
            for row in rows
            if row["partner"] == call
        }

    def reply(self, call: str, answer: str, name: str, forged_from: str = "") -> None:
        """An answer as the partner's calendar sends it, put into the folder of answers."""
        raw = answered(self.mails[call], answer)
        if answer == "DECLINED" and not forged_from:
            self.calendars[call].drop(raw)
        if forged_from:
            raw = raw.replace(self.address(call).encode(), forged_from.encode(), 1)
        folder = self.root / "answers"
        folder.mkdir(exist_ok=True)
        (folder / f"{name}.eml").write_bytes(raw)

    def states(self) -> dict[tuple[str, str], str]:
        """What the record says, by partner and letter, of this month."""
        answers = read_inputs(self.season).record.answers
        return {(one.partner, one.label): one.state for one in answers if f"{one.start_utc:%Y-%m}" == self.month}

    def check(self) -> None:
        """Slot by slot: the plan, what the ledger says was told, and the calendars; nobody has two in one stretch."""
        inputs, ledger = read_inputs(self.season), read_ledger(self.season.parent)
        taken: list[tuple[Stretch, str]] = []
        for call in (*BY_MAIL, *BY_CHAT):
            planned = set(self.agenda(call).values())
            held = {
                (one.slot.start_utc, one.slot.end_utc)
                for one in held_by(call, ledger, inputs.record.answers)
                if f"{one.slot.start_utc:%Y-%m}" == self.month and one.stands
            }
            assert held == planned, call
            if call in self.calendars:
                standing = {one for one in self.calendars[call].held if f"{one[0]:%Y-%m}" == self.month}
                assert standing == planned, call
            taken += [(one, call) for one in planned]
        taken.sort()
        for (first, one), (second, other) in pairwise(taken):
            assert first[1] <= second[0], (one, other)


@pytest.mark.slow
@pytest.mark.usefixtures("plans_made_once")
def test_record_and_calendars_agree_after_two_months(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(demo_folder(), tmp_path / "stations", ignore=shutil.ignore_patterns("record"))
    for call in BY_CHAT:
        file = tmp_path / "stations" / f"{call.lower()}.yaml"
        file.write_text(re.sub(r"(?m)^email: .*\n", "", file.read_text("utf-8")), "utf-8")
    season = tmp_path / "stations" / "season.yaml"
    text = re.sub(r"(?m)^.*call: QI9TEA.*\n", "", season.read_text("utf-8"))
    season.write_text(re.sub(r"(?m)^  nights: .*", "  nights: [fri, sat, sun]\n  step_minutes: 30", text), "utf-8")
    monkeypatch.chdir(tmp_path)
    # The nights' sheets say nothing of record and calendars, and take a quarter of the time.
    monkeypatch.setattr("pipeline.sheets.document.night_rooms", lambda *_: ())
    with running(tmp_path) as office:
        for name, value in office.environment().items():
            monkeypatch.setenv(name, value)
        play, agreed = Play(tmp_path, monkeypatch, capsys, office), 0
        for month in MONTHS:
            play.month = month
            play.round()
            play.check()
            first, second = [call for call in BY_MAIL if play.agenda(call)][:2]
            chatting = [call for call in BY_CHAT if play.agenda(call)]
            label = min(play.agenda(first))
            before = play.states()
            # Somebody else says no in the first one's name, and says it twice.
            play.reply(first, "DECLINED", f"{month}-forged", forged_from="eve@else.example")
            play.reply(first, "DECLINED", f"{month}-forged-again", forged_from="eve@else.example")
            play.type("replies", "answers", "--yes")
            assert play.states() == before
            # The first one accepts, and its mail comes twice; the second one declines.
            play.reply(first, "ACCEPTED", f"{month}-yes")
            play.reply(first, "ACCEPTED", f"{month}-yes-again")
            play.reply(second, "DECLINED", f"{month}-no")
            play.type("replies", "answers", "--yes")
            assert play.states()[first, label] == "confirmed"
            assert play.states()[second, min(play.agenda(second))] == "declined"
            # The first one's own answer is noted by now, so that the forged ones before it ask for nothing more.
            play.type("replies", "answers", "--yes")
            assert "othing new" in play.type("replies", "answers", "--yes")
            # One of those in the chat says yes, another one names a time of its own: an hour later.
            play.type("answer", chatting[0], f"{min(play.agenda(chatting[0]))}=yes", "--month", month)
            wanted = play.agenda(chatting[-1])
            own = min(wanted)
            later = wanted[own][0] + dt.timedelta(minutes=30)
            command = ("propose", chatting[-1], f"{later:%Y-%m-%dT%H:%M}Z", "--instead", own, "--month", month)
            could = "To agree" in play.type(*command)
            if could:
                play.type(*command, "--take")
            play.round()
            play.check()
            if could:
                assert play.agenda(chatting[-1])[own][0] == later
                agreed += 1
            # What was agreed stays where it is, whatever else moved.
            assert play.states()[first, label] == "confirmed"
            play.round()
            play.check()
        assert agreed
        assert set(play.calendars) == set(BY_MAIL)
