"""The whole way with real parts: plan, letters, send to a real mail server, answers written by another library, again.

The answers are made from the invitations that the server received, with the library icalendar.
"""

from __future__ import annotations

import email
import email.policy
import re
import shutil
import sys
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import icalendar
import pytest

from pipeline.cli import run
from pipeline.record.inputs import read_inputs
from pipeline.reports.places import demo_folder
from tests.letters.post_office import running

# Two partners of the demo and two weeks keep the plan quick.
KEPT = ("QF4LUM", "QG8FEN")
WEEKS = "dates: 2027-03-08/2027-03-21"


def answered(mail: bytes, answer: str) -> bytes:
    """What a calendar sends back for the invitation in a mail."""
    message = email.message_from_bytes(mail, policy=email.policy.default)
    part = next(part for part in message.walk() if part.get_content_type() == "text/calendar")
    asked = icalendar.Calendar.from_ical(part.get_payload(decode=True))
    event = asked.walk("VEVENT")[0]
    calendar = icalendar.Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", "x")
    calendar.add("method", "REPLY")
    reply = icalendar.Event()
    for name in ("UID", "SEQUENCE", "DTSTAMP", "DTSTART", "DTEND", "ORGANIZER", "SUMMARY"):
        reply[name] = event[name]
    attendee = event["ATTENDEE"]
    attendee.params["PARTSTAT"] = answer
    reply.add("attendee", attendee)
    calendar.add_component(reply)
    back = EmailMessage()
    back["From"], back["To"], back["Subject"] = message["To"], message["From"], "Re"
    back.set_content(calendar.to_ical().decode(), subtype="calendar", params={"method": "REPLY"}, cte="base64")
    return back.as_bytes()


@pytest.mark.slow
def test_from_plan_to_agreed_slots(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    stations = tmp_path / "stations"
    shutil.copytree(demo_folder(), stations, ignore=shutil.ignore_patterns("record"))
    season = stations / "season.yaml"
    lines = season.read_text(encoding="utf-8").splitlines(keepends=True)
    kept = "".join(line for line in lines if "- {call:" not in line or any(call in line for call in KEPT))
    season.write_text(re.sub("months: .*", WEEKS, kept), encoding="utf-8")
    monkeypatch.chdir(tmp_path)

    def type_(*words: str) -> str:
        monkeypatch.setattr(sys, "argv", ["mutual-moon", *words])
        code = run()
        printed = capsys.readouterr()
        assert code == 0, printed.err
        return printed.out

    def states() -> dict[str, Any]:
        return {answer.partner: answer.state for answer in read_inputs(season).record.answers}

    with running(tmp_path) as office:
        for name, value in office.environment().items():
            monkeypatch.setenv(name, value)
        type_("plan", "--no-pdf")
        type_("letters", "--no-pdf")
        type_("send", "--yes")
        assert len(office.taken) == 2
        (tmp_path / "answers").mkdir()
        for number, (_, _, mail) in enumerate(office.taken):
            answer = "ACCEPTED" if number == 0 else "DECLINED"
            (tmp_path / "answers" / f"{number}.eml").write_bytes(answered(mail, answer))
        shown = type_("replies", "answers")
        assert "1 slot to be noted" in shown
        # The invitation was for the first of two times, and the other was promised: which no is it?
        assert ": no, and B was offered instead; nothing was changed.\n" in shown
        assert states() == {}
        type_("replies", "answers", "--yes")
        assert states() == {"QF4LUM": "confirmed"}
        to_both = re.search(r"mutual-moon (answer QG8FEN A=no@\S+ B=no@\S+)\n", shown)
        assert to_both
        type_(*to_both[1].split())
        assert states() == {"QF4LUM": "confirmed", "QG8FEN": "declined"}
        assert "waits for you" not in type_("replies", "answers")
        # The plan is made anew; what was agreed is told once, and then there is nothing new.
        type_("plan", "--no-pdf")
        type_("letters", "--no-pdf")
        assert "update: A agreed" in type_("send", "--yes")
        taken = len(office.taken)
        type_("letters", "--no-pdf")
        assert type_("send", "--yes").count("nothing new") == 2
        assert len(office.taken) == taken
