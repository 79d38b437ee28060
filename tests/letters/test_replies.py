"""Answers by mail: as the large calendar services shape them, as hand-made by hostile people, and what comes of each.

REPLY and COUNTER: RFC 5546, sections 3.2.3 and 3.2.7; parsing of addresses and parameters: RFC 5545; the shapes of the
services' mails: from memory. Written besides by the libraries icalendar and vobject.
"""

from __future__ import annotations

import base64
import datetime as dt
import quopri
import sys
from collections.abc import Callable
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import icalendar
import pytest
import vobject
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from pipeline.cli import run
from pipeline.letters.reply_calendar import address_of, read_calendar
from pipeline.letters.reply_mail import read_file, read_mail
from pipeline.record.inputs import read_inputs
from pipeline.record.ledger_writing import LedgerWriter
from pipeline.record.model import Answer
from tests.effort import counted
from tests.letters.season_folder import PERIOD, SeasonFolder, address, lay_out, slot, uid

SENT = dt.datetime(2027, 2, 1, 10, 30, tzinfo=dt.UTC)
Replies = Callable[..., tuple[int, str, str]]

AGENDA = """\
# what we agreed
slots:
  # telephone, 3 Feb
  - {partner: QZ5KAR, label: A, start: 2027-03-20T01:15Z, state: fixed}   # mine

# notes below stay
"""


# The hour at 01:15 UTC on 13 March as both ends' clocks show it (Uruguay UTC-3, Germany UTC+1 in winter): their laws.
BOTH = (
    "2027-03-13 01:15 to 02:15 UTC (QM7TOR 2027-03-12 22:15 to 23:15 -03:00, QF4LUM 2027-03-13 02:15 to 03:15 +01:00)"
)


@pytest.fixture
def season(tmp_path: Path) -> SeasonFolder:
    """QF4LUM was sent A and B (B once more since), QJ2KAW was sent A and had C withdrawn."""
    made = lay_out(tmp_path)
    (made.folder / "record").mkdir()
    ledger = LedgerWriter(made.folder)
    send(ledger, "QF4LUM", [slot("QF4LUM", "A"), slot("QF4LUM", "B", day=14)])
    send(ledger, "QJ2KAW", [slot("QJ2KAW", "A"), slot("QJ2KAW", "C", day=16)])
    send(ledger, "QF4LUM", [slot("QF4LUM", "A"), slot("QF4LUM", "B", day=15, sequence=1)])
    send(ledger, "QJ2KAW", [], [slot("QJ2KAW", "C", day=16, sequence=1)])
    made.agenda.write_text(AGENDA, encoding="utf-8")
    return made


def send(ledger: LedgerWriter, call: str, slots: list[Any], withdrawn: list[Any] | None = None) -> None:
    message_id = f"<{len(ledger.path.read_bytes()) if ledger.path.exists() else 0}@basalt-tor.example>"
    what = {"partner": call, "to": address(call), "subject": "s", "kind": "first", "digest": "d", "period": PERIOD}
    ledger.begin(SENT, message_id, what | {"slots": slots, "withdrawn": withdrawn or []})
    ledger.end(SENT, message_id, "sent")


@pytest.fixture
def replies(season: SeasonFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Replies:
    """Saves mails in a folder and types `replies --yes` on it, or with other options."""
    monkeypatch.chdir(season.root)
    (season.root / "answers").mkdir()

    def type_(*options: str, **files: str | bytes) -> tuple[int, str, str]:
        for stem, content in files.items():
            raw = content if isinstance(content, bytes) else content.replace("\n", "\r\n").encode()
            ending = "ics" if raw.lstrip().startswith(b"BEGIN:VCALENDAR") else "eml"
            (season.root / "answers" / f"{stem}.{ending}").write_bytes(raw)
        monkeypatch.setattr(sys, "argv", ["mutual-moon", "replies", "answers", *(options or ["--yes"])])
        code = run()
        printed = capsys.readouterr()
        assert "Traceback" not in printed.out + printed.err
        assert "\x1b" not in printed.out + printed.err
        return code, printed.out, printed.err

    return type_


def answers(season: SeasonFolder) -> dict[tuple[str, str], Answer]:
    return {(answer.partner, answer.label): answer for answer in read_inputs(season.season).record.answers}


def states(season: SeasonFolder) -> dict[str, str]:
    return {f"{call} {label}": answer.state for (call, label), answer in answers(season).items() if call != "QZ5KAR"}


def reply(call: str = "QF4LUM", label: str = "A", answer: str = "ACCEPTED", **changes: str) -> str:
    """A plain REPLY; `changes` give other lines for a property, `more` further ones."""
    lines = {
        "UID": f"UID:{uid(call, label)}",
        "DTSTAMP": "DTSTAMP:20200210T081500Z",
        "SEQUENCE": "SEQUENCE:0",
        "ATTENDEE": f"ATTENDEE;PARTSTAT={answer}:mailto:{address(call)}",
        "METHOD": "METHOD:REPLY",
        "more": "",
    } | changes
    event = [lines[name] for name in ("UID", "DTSTAMP", "SEQUENCE", "ATTENDEE", "more") if lines[name]]
    return "\n".join(
        ["BEGIN:VCALENDAR", "PRODID:x", "VERSION:2.0", lines["METHOD"], "BEGIN:VEVENT", *event, "END:VEVENT",
         "END:VCALENDAR", ""]
    )  # fmt: skip


def mail(calendar: str, call: str = "QF4LUM", words: str = "Someone has answered.", **headers: str) -> bytes:
    """A short mail around a calendar part, with words beside it."""
    message = EmailMessage()
    heads = {"From": f"Someone <{address(call)}>", "To": "ines@basalt-tor.example", "Subject": "Accepted"} | headers
    for name, value in heads.items():
        message[name] = value
    message.set_content(words)
    message.add_alternative(calendar, subtype="calendar", params={"method": "REPLY"})
    return message.as_bytes()


def folded(text: str, width: int = 30) -> str:
    """Lines cut short, as RFC 5545 section 3.1 allows, also inside words."""
    return "\n".join("\n ".join([line[i : i + width] for i in range(0, len(line), width)]) for line in text.split("\n"))


# --- shapes of the large services ------------------------------------------------------------------------------------

WEB_MAIL = """\
MIME-Version: 1.0
From: =?UTF-8?B?TMO8bWVu?= <QF4LUM@Post.Example>
To: ines@basalt-tor.example
Subject: Accepted: Moon contact @ Sat Mar 13, 2027 2:15am - 3:15am (CET)
Message-ID: <calendar-1234@post.example>
Date: Wed, 10 Feb 2027 08:15:00 +0000
Content-Type: multipart/mixed; boundary="000000000000aaaa"

--000000000000aaaa
Content-Type: multipart/alternative; boundary="000000000000bbbb"

--000000000000bbbb
Content-Type: text/plain; charset="UTF-8"; format=flowed; delsp=yes
Content-Transfer-Encoding: base64

QWNjZXB0ZWQ=

--000000000000bbbb
Content-Type: text/html; charset="UTF-8"
Content-Transfer-Encoding: quoted-printable

<p>Accepted =3D yes</p>

--000000000000bbbb
Content-Type: text/calendar; charset="UTF-8"; method=REPLY
Content-Transfer-Encoding: 7bit

{calendar}
--000000000000bbbb--

--000000000000aaaa
Content-Type: application/ics; name="invite.ics"
Content-Disposition: attachment; filename="invite.ics"
Content-Transfer-Encoding: base64

{encoded}
--000000000000aaaa--
"""

OFFICE = """\
BEGIN:VCALENDAR
METHOD:REPLY
PRODID:Exchange Server
VERSION:2.0
BEGIN:VTIMEZONE
TZID:W. Europe Standard Time
BEGIN:STANDARD
DTSTART:16010101T030000
TZOFFSETFROM:+0200
TZOFFSETTO:+0100
END:STANDARD
END:VTIMEZONE
BEGIN:VEVENT
ATTENDEE;PARTSTAT=TENTATIVE;CN="Lumen, L. <x:y;z>":MAILTO:QF4LUM@POST.EXAMPLE
COMMENT;LANGUAGE=de-DE:Vielleicht\\, wenn das Wetter h\u00e4lt\\nGr\u00fc\u00dfe
UID:{uid}
SUMMARY;LANGUAGE=de-DE:Mit Vorbehalt: Moon contact
DTSTART;TZID=W. Europe Standard Time:20270313T021500
DTEND;TZID=W. Europe Standard Time:20270313T031500
CLASS:PUBLIC
PRIORITY:5
DTSTAMP:20200210T081500Z
TRANSP:OPAQUE
STATUS:CONFIRMED
SEQUENCE:0
X-MICROSOFT-CDO-APPT-SEQUENCE:0
X-MICROSOFT-CDO-BUSYSTATUS:TENTATIVE
X-MICROSOFT-DISALLOW-COUNTER:FALSE
END:VEVENT
END:VCALENDAR
"""


def test_a_web_mail_answer_in_two_copies_counts_once(replies: Replies, season: SeasonFolder) -> None:
    calendar = folded(reply(more="X-GUEST-NOTE:x\nDTSTART:20270313T011500Z\nDTEND:20270313T021500Z"))
    encoded = base64.encodebytes(calendar.replace("\n", "\r\n").encode()).decode()
    code, out, err = replies(a=WEB_MAIL.replace("{calendar}", calendar).replace("{encoded}", encoded))
    assert (code, err) == (0, "")
    assert out.splitlines()[:2] == [
        "a.eml: QF4LUM slot A (2027-03-13 01:15 to 02:15 UTC): yes; noted.",
        f"    offered at {BOTH}",
    ]
    assert "1 slot noted in stations/record/agenda.yaml; next: mutual-moon plan" in out
    answer = answers(season)["QF4LUM", "A"]
    assert (answer.state, answer.operator) == ("confirmed", "QM7TOR")
    assert answer.start_utc == dt.datetime(2027, 3, 13, 1, 15, tzinfo=dt.UTC)
    assert answer.answered == dt.datetime(2020, 2, 10, 8, 15, tzinfo=dt.UTC)


@pytest.mark.parametrize("encoding", ["base64", "quoted-printable", "8bit"])
def test_an_office_answer_in_every_transfer_encoding(encoding: str, replies: Replies, season: SeasonFolder) -> None:
    calendar = OFFICE.replace("{uid}", uid("QF4LUM", "A")).replace("\n", "\r\n").encode()
    coded = {
        "base64": base64.encodebytes(calendar),
        "quoted-printable": quopri.encodestring(calendar),
        "8bit": calendar,
    }[encoding]
    head = (
        "From: qf4lum@post.example\r\nSubject: Mit Vorbehalt\r\nMIME-Version: 1.0\r\n"
        'Content-Type: text/calendar; charset="utf-8"; method=REPLY\r\n'
        f"Content-Transfer-Encoding: {encoding}\r\n\r\n"
    )
    _, out, _ = replies(a=head.encode() + coded)
    assert (
        "QF4LUM slot A (2027-03-13 01:15 to 02:15 UTC): perhaps (“Vielleicht, wenn das Wetter hält Grüße”); noted."
        in out
    )
    assert states(season) == {"QF4LUM A": "tentative"}


def test_the_method_only_in_the_mail_is_enough_and_a_calendar_file_alone_is_not(
    replies: Replies, season: SeasonFolder
) -> None:
    """A file without a mail around it names nobody who sent it: shown with the line that takes it by hand."""
    bare = mail(reply("QJ2KAW", answer="DECLINED", METHOD="X-NOTHING:1"), call="QJ2KAW")
    _, out, _ = replies(a=reply(), b=bare)
    assert "a.ics: an answer without a sender for QF4LUM slot A (2027-03-13 01:15 to 02:15 UTC)" in out
    assert "If it is from QF4LUM all the same: mutual-moon answer QF4LUM A=yes@2027-03-13T01:15Z\n" in out
    assert "b.eml: QJ2KAW slot A (2027-03-13 01:15 to 02:15 UTC): no; noted." in out
    assert states(season) == {"QJ2KAW A": "declined"}


def test_answers_that_other_libraries_write(replies: Replies, season: SeasonFolder) -> None:
    calendar = icalendar.Calendar()
    calendar.add("prodid", "x")
    calendar.add("version", "2.0")
    calendar.add("method", "REPLY")
    event = icalendar.Event()
    event.add("uid", uid("QF4LUM", "A"))
    event.add("dtstamp", dt.datetime(2020, 2, 10, 8, 15, tzinfo=dt.UTC))
    event.add("sequence", 0)
    attendee = icalendar.vCalAddress(f"mailto:{address('QF4LUM')}")
    attendee.params["PARTSTAT"] = "DECLINED"
    attendee.params["CN"] = "Lumen, the: long; name " + "ü" * 60
    event.add("attendee", attendee)
    calendar.add_component(event)

    other = vobject.iCalendar()
    other.add("method").value = "REPLY"
    made = other.add("vevent")
    made.add("uid").value = uid("QJ2KAW", "A")
    made.add("dtstamp").value = dt.datetime(2020, 2, 10, 8, 15, tzinfo=vobject.icalendar.utc)
    made.add("dtstart").value = dt.datetime(2027, 3, 13, 1, 15, tzinfo=vobject.icalendar.utc)
    line = made.add("attendee")
    line.value = f"MAILTO:{address('QJ2KAW').upper()}"
    line.params["PARTSTAT"] = ["ACCEPTED"]
    replies(a=mail(calendar.to_ical().decode()), b=mail(other.serialize(), call="QJ2KAW"))
    assert states(season) == {"QF4LUM A": "declined", "QJ2KAW A": "confirmed"}


# --- what is told and not applied ------------------------------------------------------------------------------------


def test_an_answer_to_an_older_letter_is_stale(replies: Replies, season: SeasonFolder) -> None:
    _, out, _ = replies(a=mail(reply(label="B")), b=mail(reply(label="B", SEQUENCE="")))
    assert out.count("the answer is to an older letter; the time has changed since") == 2
    assert "answered 2027-03-14 01:15 to 02:15 UTC (QM7TOR 2027-03-13 22:15 to 23:15 -03:00, QF4LUM " in out
    assert out.count("offered at 2027-03-15 01:15 to 02:15 UTC (QM7TOR 2027-03-14 22:15 to 23:15 -03:00") == 2
    assert out.count("mutual-moon answer QF4LUM B=yes@2027-03-15T01:15Z\n") == 2
    assert states(season) == {}
    replies(c=mail(reply(label="B", SEQUENCE="SEQUENCE:1")))
    assert states(season) == {"QF4LUM B": "confirmed"}
    assert answers(season)["QF4LUM", "B"].start_utc.day == 15


def test_a_counter_proposal_is_shown_and_not_applied(replies: Replies, season: SeasonFolder) -> None:
    times = "DTSTART;TZID=Europe/Berlin:20270314T040000\nDURATION:PT1H\nCOMMENT:an hour later?"
    _, out, _ = replies(a=mail(reply(METHOD="METHOD:COUNTER", more=times)), b=mail(reply(more=times)))
    wanted = "QF4LUM proposes 2027-03-14 03:00 to 04:00 UTC instead (“an hour later?”); nothing was changed."
    assert out.count(wanted) == 2
    assert states(season) == {}
    assert out.count("    Whether it would do: mutual-moon propose QF4LUM 2027-03-14T03:00Z --instead A") == 2


def test_an_answer_to_a_time_that_the_partner_gave_up_itself_changes_nothing(
    replies: Replies, season: SeasonFolder
) -> None:
    line = (
        "slots:\n  - {partner: QF4LUM, label: A, start: 2027-03-14T20:00Z, end: 2027-03-14T21:00Z, state: confirmed, "
        "proposed_by: partner}\n"
    )
    season.agenda.write_text(line, encoding="utf-8")
    _, out, _ = replies(a=mail(reply()))
    assert "since then it proposed 2027-03-14 20:00 to 21:00 UTC itself, which is agreed, so it was left alone" in out
    assert season.agenda.read_text(encoding="utf-8") == line
    # Another month's A is another slot.
    season.agenda.write_text(line.replace("2027-03-14", "2027-05-14"), encoding="utf-8")
    replies(a=mail(reply()))
    assert answers(season)["QF4LUM", "A"].start_utc.month == 3


def test_a_counter_proposal_in_a_zone_named_as_offices_name_it(replies: Replies, season: SeasonFolder) -> None:
    # Unicode CLDR, windowsZones: FLE Standard Time is Europe/Kiev, UTC+2 in March; names of nobody's stay unknown.
    times = "DTSTART;TZID={0}:20270314T050000\nDTEND;TZID={0}:20270314T060000"
    _, out, _ = replies(
        a=mail(reply(METHOD="METHOD:COUNTER", more=times.format("FLE Standard Time"))),
        b=mail(reply(METHOD="METHOD:COUNTER", more=times.format("My Own Time"))),
    )
    assert "a.eml: QF4LUM slot A (2027-03-13 01:15 to 02:15 UTC): QF4LUM proposes 2027-03-14 03:00 to 04:00 UTC" in out
    assert "b.eml: QF4LUM slot A (2027-03-13 01:15 to 02:15 UTC): QF4LUM proposes another time instead" in out
    assert states(season) == {}


def test_an_attendee_by_a_name_of_its_own_is_known_by_its_address(replies: Replies, season: SeasonFolder) -> None:
    # RFC 7986, section 6.2.
    person = f"ATTENDEE;EMAIL={address('QF4LUM')};PARTSTAT=ACCEPTED:urn:uuid:6a1b"
    replies(a=mail(reply(ATTENDEE=person)))
    assert states(season) == {"QF4LUM A": "confirmed"}


def test_who_was_offered_nothing_has_nothing_to_answer(replies: Replies) -> None:
    _, out, _ = replies(a=f"From: {address('QZ5KAR')}\nSubject: horizon\n\nMine is lower.\n")
    assert "mutual-moon answer" not in out
    assert "goes into its file, then: mutual-moon plan" in out


def test_strangers_and_unknown_slots_change_nothing(replies: Replies, season: SeasonFolder) -> None:
    stranger = "ATTENDEE;PARTSTAT=ACCEPTED:mailto:else@post.example"
    _, out, _ = replies(
        a=mail(reply(ATTENDEE=stranger)),
        b=mail(reply(UID="UID:someone-elses@meeting.example")),
        c=mail(reply(), From="else@post.example"),
        d=mail(reply(METHOD="METHOD:REQUEST").replace("REPLY", "REQUEST")),
        e=mail(reply("QJ2KAW", "C"), call="QJ2KAW"),
        f=mail(reply(ATTENDEE="X-NO:attendee")),
        g=mail(reply(answer="NEEDS-ACTION")),
        h=mail(reply("QJ2KAW"), call="QF4LUM"),
    )
    assert "a.eml: someone else, else@post.example, answers for QF4LUM slot A" in out
    assert "If it is from QF4LUM all the same: mutual-moon answer QF4LUM A=yes@2027-03-13T01:15Z\n" in out
    assert "b.eml: an answer to someone-elses@meeting.example, which was never sent from here." in out
    assert "c.eml: else@post.example answers in the name of QF4LUM slot A" in out
    assert "d.eml: a request and no answer." in out
    assert "e.eml: QJ2KAW slot C (2027-03-16 01:15 to 02:15 UTC): the answer is to a slot that was withdrawn." in out
    assert "f.eml: someone else, nobody, answers" in out
    assert "g.eml: QF4LUM slot A (2027-03-13 01:15 to 02:15 UTC): no answer yet" in out
    assert "h.eml: qf4lum@post.example answers in the name of QJ2KAW slot A" in out
    # Those that are doubtful wait; the rest asks for nothing.
    away = "answer each as above, or put it away: mutual-moon replies answers --put-away a.eml\n"
    assert out.endswith(f"\nNothing was changed.\n4 mails wait for you: {away}")
    assert season.agenda.read_text(encoding="utf-8") == AGENDA


def line_of(label: str, day: int, answered: str) -> str:
    edges = f"start: 2027-03-{day}T01:15Z, end: 2027-03-{day}T02:15Z"
    return f"  - {{partner: QF4LUM, label: {label}, {edges}, state: confirmed, answered: {answered}}}\n"


def test_a_mail_that_waits_stays_until_it_is_answered_or_put_away(replies: Replies, season: SeasonFolder) -> None:
    head = f"From: {address('QF4LUM')}\nDate: Mon, 30 Nov 2020 08:00:00 +0000\n\n"
    mails = {
        "a": mail(reply("QJ2KAW"), call="QJ2KAW"),
        "b": head + "B is hard for me.\n",
        "c": head + "A yes\n",
        "d": head + "Could we do 22:40 on Saturday?\n",
    }
    for _ in range(2):
        out = replies(**mails)[1]
        away = "answer each as above, or put it away: mutual-moon replies answers --put-away b.eml\n"
        assert out.endswith(f"\n3 mails wait for you: {away}")
        assert "    | B is hard for me.\n" in out
    assert "propose QF4LUM 2027-03-13 22:40 --zone partner" in out
    # An answer to B alone, of before the mails, says nothing of them; one that was given since does.
    text = season.agenda.read_text("utf-8")
    season.agenda.write_text(text + line_of("B", 15, "2020-11-29T08:00Z"), "utf-8")
    assert "3 mails wait" in replies()[1]
    season.agenda.write_text(text + line_of("B", 15, "2020-11-30T09:00Z"), "utf-8")
    assert "    | B is hard for me.\n" in (out := replies()[1])
    assert "    the record has an answer that was noted since\n" in out
    out = replies()[1]
    assert "2 mails wait" in out
    assert "B is hard" not in out
    season.agenda.write_text(season.agenda.read_text("utf-8") + line_of("A", 13, "2020-11-28T09:00Z"), "utf-8")
    assert "The record says so already" in replies()[1]
    away = "answer it as above, or put it away: mutual-moon replies answers --put-away d.eml\n"
    assert replies()[1].endswith(f"\n1 mail waits for you: {away}")
    # What it asked for was never answered: the operator puts it away by its name.
    code, _, err = replies("--put-away", "e.eml")
    assert (code, err) == (2, "e.eml: no mail of that name is there; the names stand before each mail.\n")
    assert replies("--put-away", "d.eml")[1] == "put away: d.eml; with --all shown again.\n"
    assert replies()[1] == "4 settled before and not shown again; with --all they are.\n\nNothing new.\n"
    assert "Could we do 22:40" in replies("--all")[1]


def test_mails_in_plain_words_are_for_the_operator_to_read(replies: Replies, season: SeasonFolder) -> None:
    plain = f"From: {address('QF4LUM')}\nSubject: =?utf-8?q?Gr=C3=BC=C3=9Fe?=\n\nA yes, B no\n"
    absent = f"From: {address('QJ2KAW')}\nAuto-Submitted: auto-replied\nSubject: Away\n\nI am away.\n"
    report = (
        "From: mailer@post.example\nMIME-Version: 1.0\nSubject: failed\n"
        "Content-Type: multipart/report; report-type=delivery-status; boundary=b\n\n--b\n\nsorry\n--b\n"
        "Content-Type: message/delivery-status\n\nReporting-MTA: dns; post.example\n\n"
        f"Final-Recipient: rfc822; {address('QZ5KAR').upper()}\nAction: failed\nStatus: 5.1.1\n\n--b--\n"
    )
    _, out, _ = replies(a=plain, b=absent, c=report, d="From: else@post.example\n\nhello\n")
    assert "a.eml: QF4LUM wrote in words of its own, subject “Grüße”." in out
    line = "mutual-moon answer QF4LUM A=yes@2027-03-13T01:15Z B=no@2027-03-15T01:15Z\n"
    assert f"If that is what it says: {line}" in out
    assert "    | A yes, B no\n" in out
    assert f"    A is offered at {BOTH}\n" in out
    assert "B was offered at another time before: be sure which one is answered" in out
    assert "b.eml: an automatic answer from QJ2KAW" in out
    assert "c.eml: the letter to QZ5KAR came back: qz5kar@post.example could not be reached." in out
    assert "d.eml: a mail from else@post.example, which is no partner's address." in out
    assert states(season) == {}


@pytest.mark.parametrize(
    ("text", "waits"), [("I am away.", False), ("Estarei fora até 25 de março.", True), ("Zurück am 3.4.", True)]
)
def test_a_machine_answers_no_slot_and_its_words_are_shown(
    replies: Replies, season: SeasonFolder, text: str, waits: bool
) -> None:
    """Days may keep the partner from a slot: then the operator is asked to read them."""
    heads = f"From: {address('QJ2KAW')}\nAuto-Submitted: auto-replied\nContent-Type: text/plain; charset=utf-8\n"
    _, out, _ = replies(a=f"{heads}Subject: Away\n\n{text}\n")
    assert "an automatic answer from QJ2KAW, subject “Away”; it answers no slot.\n" in out
    assert f"    | {text}\n" in out
    assert ("1 mail waits for you" in out) == waits
    assert states(season) == {}


# --- several answers, and the record ---------------------------------------------------------------------------------


def test_the_newest_of_several_answers_wins_in_any_order_of_files(replies: Replies, season: SeasonFolder) -> None:
    late = mail(reply(answer="DECLINED", DTSTAMP="DTSTAMP:20200212T070000Z"))
    _, out, _ = replies(a=late, b=mail(reply()))
    assert "b.eml: QF4LUM slot A (2027-03-13 01:15 to 02:15 UTC): yes; a newer answer came after it" in out
    assert states(season) == {"QF4LUM A": "declined"}
    # A second run over the same folder finds nothing to do.
    before = season.agenda.read_bytes()
    for options in (("--yes",), ("--season", "stations/season.yaml")):
        quiet = "2 settled before and not shown again; with --all they are.\n\nNothing new.\n"
        assert replies(*options) == (0, quiet, "")
    code, out, _ = replies("--all")
    assert code == 0
    assert "the record says so already" in out
    assert "to be noted" not in out
    assert season.agenda.read_bytes() == before


def test_what_was_noted_by_hand_later_stays(replies: Replies, season: SeasonFolder) -> None:
    line = "  - {partner: QF4LUM, label: A, start: 2027-03-13T01:15Z, state: declined, answered: 2020-02-10}\n"
    season.agenda.write_text(AGENDA + line, encoding="utf-8")
    _, out, _ = replies(a=mail(reply()))
    assert "the record has declined of 2020-02-10 23:59 UTC, which is later, so it was left alone." in out
    assert "If this is the last word: mutual-moon answer QF4LUM A=yes@2027-03-13T01:15Z\n" in out
    assert states(season) == {"QF4LUM A": "declined"}
    replies(b=mail(reply(DTSTAMP="DTSTAMP:20200211T000000Z")))
    assert states(season) == {"QF4LUM A": "confirmed"}


def test_the_operators_own_lines_stay_as_they_are(replies: Replies, season: SeasonFolder) -> None:
    replies(a=mail(reply()), b=mail(reply("QJ2KAW", answer="TENTATIVE"), call="QJ2KAW"))
    text = season.agenda.read_text(encoding="utf-8")
    for line in AGENDA.splitlines():
        assert line in text.splitlines()
    assert text.endswith("# notes below stay\n")
    assert len(text.splitlines()) == len(AGENDA.splitlines()) + 2


def test_a_failure_at_any_step_of_writing_leaves_the_old_agenda(
    replies: Replies, season: SeasonFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: Any, **__: Any) -> None:
        raise OSError(28, "No space left on device")

    steps = ("pipeline.record.writing.write_file", "os.fsync", "pathlib.Path.chmod", "pathlib.Path.replace")
    for step in steps:
        with monkeypatch.context() as patch:
            patch.setattr(step, fails)
            code, _, err = replies(a=mail(reply()))
        assert code == 2, step
        assert "no space left on device" in err
        assert season.agenda.read_text(encoding="utf-8") == AGENDA
        assert [path.name for path in (season.folder / "record").glob(".agenda*")] == []
    assert replies()[0] == 0
    assert states(season) == {"QF4LUM A": "confirmed"}


def test_no_folder_and_no_mail_are_told(replies: Replies, season: SeasonFolder) -> None:
    assert replies() == (3, "", "answers: no .eml and no .ics file is in it.\n")
    (season.root / "answers").rmdir()
    assert replies() == (2, "", "answers: there is no such folder; save the answers there as .eml or .ics files.\n")


# --- hostile mail ----------------------------------------------------------------------------------------------------

ESCAPES = "\x1b[2J\x1b]0;title\x07\u202ereversed\r"


def nested(depth: int) -> str:
    """Mails within mails."""
    text = "From: qf4lum@post.example\nSubject: deep\n"
    for number in range(depth):
        text += f"Content-Type: multipart/mixed; boundary=b{number}\n\n--b{number}\n"
    return text + "\nhello\n"


def hidden_nesting(depth: int) -> bytes:
    """The same with headers that a simple search does not find."""
    lines = [b"From: qf4lum@post.example"]
    for number in range(depth):
        lines += [b"Content-Type:", b"  multipart/mixed; boundary=b%d" % number, b"", b"--b%d" % number]
    return b"\r\n".join([*lines, b"", b"hello", b""])


HOSTILE: dict[str, str | bytes] = {
    "empty": b"",
    "zeros": b"\0" * 10_000,
    "noise": bytes(range(256)) * 200,
    "no head": b"\r\n\r\nhello",
    "charset": mail(reply()).replace(b'charset="utf-8"', b'charset="\x00zlib_codec"'),
    "codec": mail(reply()).replace(b'charset="utf-8"', b'charset="unicode_escape"'),
    "idle base64": b"Content-Type: text/calendar\r\nContent-Transfer-Encoding: base64\r\n\r\n" + b"=*&A" * 5_000,
    "long head": "From: " + "a" * 300_000 + "\n\nhello",
    "many heads": "X-A: b\n" * 100_000 + "\nhello",
    "long subject": f"From: qf4lum@post.example\nSubject: {'=?utf-8?b?' * 2_000}\n\nhello",
    "bad address": "From: " + "<" * 2_000 + "@" * 500 + "\n\nhello",
    "escapes": f"From: qf4lum@post.example\nSubject: {ESCAPES.strip()}\n\n{ESCAPES}",
    "encoded escapes": "From: qf4lum@post.example\nSubject: =?utf-8?b?G1sySkFCGxs=?=\n\nhello",
    "nested": nested(12),
    "deeper": nested(5_000),
    "hidden": hidden_nesting(3_000),
    "boundaries": "Content-Type: multipart/mixed; boundary=b\n\n" + "--b\n" * 100_000,
    "file name": mail(reply()).replace(b"text/calendar;", b'text/calendar; name="../../etc/passwd.ics";'),
    "events": reply().replace("BEGIN:VEVENT", "BEGIN:VEVENT\n" * 50_000),
    "begins": "BEGIN:VCALENDAR\n" + "BEGIN:VEVENT\nBEGIN:VALARM\n" * 50_000,
    "quotes": 'BEGIN:VCALENDAR\nBEGIN:VEVENT\nATTENDEE;CN="' + '";"' * 100_000 + ":x\nEND:VEVENT\nEND:VCALENDAR\n",
    "one line": "BEGIN:VCALENDAR" + "A" * 1_900_000,
    "folds": "BEGIN:VCALENDAR\n" + "UID:a\n b\n" * 150_000,
    "numbers": mail(reply(SEQUENCE="SEQUENCE:" + "9" * 5_000, DTSTAMP="DTSTAMP:99999999T999999Z")),
    "zone": mail(reply(more="DTSTART;TZID=../../../etc/passwd:20270313T011500")),
    "eternity": mail(reply(more="DTSTART:20270313T011500Z\nDURATION:P99999W")),
    "far": mail(reply(more="DTSTART;TZID=Pacific/Apia:99991231T235959")),
    "comment": mail(reply(answer="X", more=f"COMMENT:{ESCAPES.strip()}")),
    "uid": mail(reply(UID=f"UID:{ESCAPES.strip()}")),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_mail_does_no_harm(name: str, replies: Replies, season: SeasonFolder) -> None:
    with counted() as effort:
        code, out, err = replies(x=HOSTILE[name])
    assert (code, err) == (0, "")
    # The season alone takes 75,000 calls; the worst of these, two a character and 0.4 seconds.
    assert effort.calls < 300_000 + 5 * len(HOSTILE[name])
    assert effort.processor_s < 4.0
    assert out.startswith("x.")
    assert not any(ord(sign) < 32 and sign != "\n" for sign in out)
    assert "\u202e" not in out
    if name not in ("charset", "codec", "file name", "numbers", "zone", "eternity"):
        assert season.agenda.read_text(encoding="utf-8") == AGENDA


def test_a_file_too_large_or_no_file_is_not_read(replies: Replies, season: SeasonFolder) -> None:
    (season.root / "answers" / "folder.eml").mkdir()
    (season.root / "answers" / "big.eml").write_bytes(b"x" * 2_000_001)
    (season.root / "answers" / "gone.eml").symlink_to("nowhere")
    (season.root / "answers" / "\x1b[31mred.eml").write_bytes(b"From: else@post.example\n\nhello")
    _, out, _ = replies()
    assert "big.eml: not read: it is over 2 MB, and no answer is that long." in out
    assert "folder.eml: not read: it is no ordinary file." in out
    assert "gone.eml: not read: it is no ordinary file." in out
    assert "?[31mred.eml: a mail from else@post.example" in out


@given(st.binary(max_size=400), st.integers(0, 600), st.integers(0, 80))
@hypothesis_settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_mail_changed_anywhere_is_still_read_without_failing(noise: bytes, at: int, cut: int) -> None:
    raw = mail(reply())
    read_mail(raw[:at] + noise + raw[at + cut :], "x.eml")
    read_calendar((raw[:at] + noise + raw[at + cut :]).decode("latin-1"))


def test_addresses_and_events_in_their_many_spellings(tmp_path: Path) -> None:
    for text in (
        "mailto:a@b.example",
        "MAILTO:A@B.example",
        " <a@b.example> ",
        '"mailto:a@b.example"',
        "mailto:a%40b.example",
    ):
        assert address_of(text) == "a@b.example"
    two = reply().replace("END:VCALENDAR\n", "") + reply(label="B").partition("METHOD:REPLY\n")[2]
    assert [event.uid for event in read_calendar(two)] == [uid("QF4LUM", "A"), uid("QF4LUM", "B")]
    alarm = reply().replace(
        "END:VEVENT", "BEGIN:VALARM\nATTENDEE:mailto:else@post.example\nUID:x\nEND:VALARM\nEND:VEVENT"
    )
    assert [person.address for person in read_calendar(alarm)[0].attendees] == [address("QF4LUM")]
    wide = tmp_path / "wide.ics"
    wide.write_bytes(reply().encode("utf-16"))
    assert read_file(wide).events[0].uid == uid("QF4LUM", "A")


def test_a_yes_of_somebody_who_left_the_season_is_told(replies: Replies, season: SeasonFolder) -> None:
    text = season.season.read_text(encoding="utf-8")
    assert "  - {call: QF4LUM}\n" in text
    season.season.write_text(text.replace("  - {call: QF4LUM}\n", ""), encoding="utf-8")
    _, out, _ = replies(a=mail(reply()))
    assert "QF4LUM is no partner of this season any more: tell it yourself, or put it back." in out


def test_a_letter_handed_over_by_the_operator_is_known_by_its_uid(replies: Replies, season: SeasonFolder) -> None:
    """Who has no mail server sends `letter.eml` by hand: the ledger knows nothing of it, but the UID is ours."""
    timed = reply("QZ5KAR", "B", answer="DECLINED", more="DTSTART:20270313T011500Z\nDTEND:20270313T021500Z")
    _, out, _ = replies(a=mail(timed, call="QZ5KAR"), b=mail(reply("QZ5KAR", "B"), call="QZ5KAR"))
    assert "a.eml: an answer of QZ5KAR to slot B, which send has not sent: it was handed over by you." in out
    assert "answered at 2027-03-13 01:15 to 02:15 UTC (QM7TOR 2027-03-12 22:15 to 23:15 -03:00, QZ5KAR" in out
    assert "If it is from QZ5KAR: mutual-moon answer QZ5KAR B=no@2027-03-13T01:15Z\n" in out
    assert "Ask for the time that it answers, then for instance: mutual-moon answer QZ5KAR B=yes@" in out
    assert season.agenda.read_text(encoding="utf-8") == AGENDA
