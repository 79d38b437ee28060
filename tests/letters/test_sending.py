"""Sending against a real mail server on the loopback: encryption, login, faults at every step, nothing twice.

Steps and reply codes: RFC 5321; STARTTLS: RFC 3207; AUTH: RFC 4954; the server is aiosmtpd.
"""

from __future__ import annotations

import datetime as dt
import email
import email.policy
import json
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Any

import pytest
from filelock import FileLock

from pipeline.cli import run
from pipeline.inputs.faults import InputFaults
from pipeline.letters import sending
from pipeline.letters.delivery import DELIVERED, LATER, REFUSED, UNCLEAR, NoSession, Session, by_code
from pipeline.letters.outbox import OutboxFault, Parcel, parcel_of, read_json, turn_of, with_date
from pipeline.letters.sending import Clock, Post
from pipeline.letters.settings import MailSettings, MailSettingsFault, mail_settings
from pipeline.record import writing as record_writing
from pipeline.record.ledger import read_ledger
from pipeline.record.ledger_writing import LedgerWriter
from pipeline.record.writing import record_lock
from tests.letters import post_office as steps
from tests.letters.post_office import PASSWORD, PostOffice, running
from tests.letters.season_folder import CALLS, PERIOD, SENDER, SeasonFolder, address, slot

NOW = dt.datetime(2027, 2, 1, 10, 30, tzinfo=dt.UTC)
Send = Callable[..., tuple[int, str, str]]


@pytest.fixture
def send(
    season: SeasonFolder, office: PostOffice, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Send:
    """Types `send` in the season's place: exit code, what was printed, what was said on the error stream."""
    monkeypatch.chdir(season.root)
    for name, value in office.environment().items():
        monkeypatch.setenv(name, value)

    def type_(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["mutual-moon", "send", *words])
        code = run()
        printed = capsys.readouterr()
        assert PASSWORD not in printed.out + printed.err
        return code, printed.out, printed.err

    return type_


def quick(settings: MailSettings, silent_at: str = "") -> Session:
    """A session without patience where the server falls silent; elsewhere a busy machine may take its time."""
    return Session(
        settings,
        connect_s=1.0 if silent_at == steps.BANNER else 20.0,
        step_s=1.0 if silent_at in (steps.DATA, steps.QUIT) else 20.0,
        after_dot_s=0.5 if silent_at == steps.DOT else 20.0,
    )


def post(season: SeasonFolder, office: PostOffice) -> tuple[Post, list[float]]:
    """A run of sending whose waits are noted and not waited."""
    slept: list[float] = []
    clock = Clock(now=lambda: NOW, sleep=slept.append)
    silent_at = next((step for step, fault in office.faults if fault == steps.SILENT), "")
    made = Post(
        season.folder,
        PERIOD,
        season.number,
        office.settings(),
        clock,
        open_session=lambda settings: quick(settings, silent_at),
    )
    (season.folder / "record").mkdir(exist_ok=True)
    return made, slept


def parcel(season: SeasonFolder, call: str = "QF4LUM", stem: str = "letter") -> Parcel:
    folder = season.out / PERIOD / "letters" / call
    return parcel_of(folder, stem, read_json(folder / f"{stem}.json"), call)


def events(season: SeasonFolder) -> list[str]:
    return [entry["event"] for entry in season.entries()] if season.ledger.exists() else []


# --- the command -----------------------------------------------------------------------------------------------------


def test_without_yes_it_shows_who_would_get_what_and_sends_nothing(
    send: Send, season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM", "A"), slot("QF4LUM", "B", day=14))
    season.letter("QJ2KAW", slot("QJ2KAW"), to="")
    code, out, _ = send()
    assert code == 0
    assert "QF4LUM" in out
    assert f"{address('QF4LUM')}: first letter, slots A, B" in out
    assert "subject: Moon contact with QM7TOR" in out
    assert "QJ2KAW    no mail address; paste out/2027-03/letters/QJ2KAW/message.txt into a chat" in out
    assert "QZ5KAR    no letter was made for it" in out
    assert "Nothing was sent. mutual-moon send --yes sends 1 mail." in out
    assert office.connections == 0
    assert not season.ledger.exists()
    assert not (season.folder / "record").exists()


def test_each_letter_arrives_once_and_a_second_run_sends_nothing(
    send: Send, season: SeasonFolder, office: PostOffice
) -> None:
    for call in CALLS:
        season.letter(call, slot(call))
    code, out, err = send("--yes")
    assert (code, err) == (0, "")
    assert [to for _, to, _ in office.taken] == [[address(call)] for call in CALLS]
    assert {sender for sender, _, _ in office.taken} == {SENDER}
    assert office.connections == 1
    assert events(season) == ["sending", "sent"] * 3
    code, out, err = send("--yes")
    assert (code, err) == (0, "")
    assert len(office.taken) == 3
    assert office.connections == 1
    assert out.count("nothing new since 20") == 3


def test_the_mail_is_the_letter_with_the_ledgers_instant_as_its_date(
    send: Send, season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    written = (season.out / PERIOD / "letters" / "QF4LUM" / "letter.eml").read_bytes()
    assert send("--yes")[0] == 0
    received = office.taken[0][2]
    entry = season.entries()[0]
    message = email.message_from_bytes(received, policy=email.policy.default)
    assert parsedate_to_datetime(str(message["Date"])) == dt.datetime.fromisoformat(entry["stamp"])
    assert message["Message-ID"] == entry["message_id"]
    other = [line for line in received.split(b"\r\n") if not line.startswith(b"Date:")]
    assert other == [line for line in written.split(b"\r\n") if not line.startswith(b"Date:")]
    assert "\n.\n..two\n.hidden Grüße\n" in message.get_content().replace("\r\n", "\n")
    assert entry["slots"] == [slot("QF4LUM")]
    assert (entry["partner"], entry["to"], entry["period"]) == ("QF4LUM", address("QF4LUM"), PERIOD)


def test_a_changed_letter_is_an_update_and_a_withdrawal_goes_beside_it(
    send: Send, season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM", "A"), slot("QF4LUM", "B", day=14), slot("QF4LUM", "C", day=15))
    assert send("--yes")[0] == 0
    season.letter(
        "QF4LUM", slot("QF4LUM", "A", sequence=1, state="confirmed"), slot("QF4LUM", "B", day=20, sequence=1),
        slot("QF4LUM", "D", day=21), text="changed",
    )  # fmt: skip
    season.letter("QF4LUM", slot("QF4LUM", "C", day=15, sequence=1, state="withdrawn"), stem="withdrawal")
    out = send()[1]
    assert f"{address('QF4LUM')}: update: A agreed, B moved, D new" in out
    assert f"{address('QF4LUM')}: withdrawal of slot C" in out
    assert send("--yes")[0] == 0
    assert len(office.taken) == 3
    offers = {offer.label: offer for offer in read_record(season)}
    assert {label: (offer.sequence, offer.withdrawn) for label, offer in offers.items()} == {
        "A": (1, False), "B": (1, False), "C": (1, True), "D": (0, False),
    }  # fmt: skip
    assert send("--yes")[0] == 0
    assert len(office.taken) == 3


def read_record(season: SeasonFolder) -> Any:
    from pipeline.record.inputs import read_inputs

    return read_inputs(season.season).record.offers


def test_sending_leaves_the_plan_on_the_disk_good(send: Send, season: SeasonFolder) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    before = season.number
    assert send("--yes")[0] == 0
    assert season.number == before
    assert send()[0] == 0


def test_changed_inputs_stop_it(send: Send, season: SeasonFolder, office: PostOffice) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    with (season.folder / "qf4lum.yaml").open("a", encoding="utf-8") as stream:
        stream.write("name: Hill\n")
    for words in ((), ("--yes",)):
        code, out, err = send(*words)
        assert (code, out) == (2, "")
        assert err == "inputs changed since the plan in out/2027-03 was made (qf4lum.yaml); run: mutual-moon plan\n"
    assert office.connections == 0


def test_letters_of_another_plan_or_older_than_the_last_sending_stop_it(send: Send, season: SeasonFolder) -> None:
    season.letter("QF4LUM", slot("QF4LUM", sequence=1))
    assert send("--yes")[0] == 0
    season.letter("QF4LUM", slot("QF4LUM", sequence=0), text="old")
    code, _, err = send("--yes")
    assert code == 2
    assert "the letter to QF4LUM is older than what was sent last (slot A); run: mutual-moon letters" in err
    folder = season.out / PERIOD / "letters" / "QF4LUM"
    about = json.loads((folder / "letter.json").read_text(encoding="utf-8"))
    (folder / "letter.json").write_text(json.dumps(about | {"plan": "ZZZZ"}), encoding="utf-8")
    code, _, err = send("--yes")
    assert code == 2
    assert "belong to plan ZZZZ" in err


def test_without_settings_or_letters_or_partner_a_sentence_says_what_is_missing(
    send: Send, season: SeasonFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert send() == (2, "", "there are no letters in out/2027-03 yet; run: mutual-moon letters\n")
    season.letter("QF4LUM", slot("QF4LUM"))
    code, _, err = send("--yes", "--again", "QX1ABC")
    assert (code, err) == (2, "QX1ABC is no partner of this season; there is QF4LUM, QJ2KAW, QZ5KAR\n")
    assert "wants --yes as well" in send("--again", "QF4LUM")[2]
    said = send("--again", "QF4LUM", "--month", "2027-05")[2]
    assert said.endswith(": mutual-moon send --yes --again QF4LUM --month 2027-05\n")
    monkeypatch.delenv("MUTUAL_MOON_MAIL_HOST")
    code, _, err = send("--yes")
    assert code == 2
    assert err.startswith("no mail server is set; set MUTUAL_MOON_MAIL_HOST")
    assert "\n  export MUTUAL_MOON_MAIL_HOST=mail.basalt-tor.example\n" in err
    assert err.endswith("run: mutual-moon send --by-hand CALL --way mail\n")
    assert events(season) == []


def test_an_unclear_letter_is_shown_and_waits_for_the_operators_word(
    send: Send, season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    season.letter("QJ2KAW", slot("QJ2KAW"))
    office.faults = [(steps.DOT, steps.CLOSE)]
    code, out, _ = send("--yes")
    assert code == 4
    assert "unclear whether it reached qf4lum@post.example" in out
    assert "QJ2KAW    sent to" in out
    assert "mutual-moon replies answers shows what they say." in out
    # The server had taken it; a second run must not send it again by itself.
    code, out, _ = send("--yes")
    assert code == 4
    assert "mutual-moon send --arrived QF4LUM" in out
    assert "mutual-moon send --yes --again QF4LUM" in out
    assert send()[0] == 4
    assert len(office.taken) == 2
    code, out, _ = send("--arrived", "qf4lum")
    assert code == 0
    assert "is noted as arrived" in out
    assert send("--yes")[0] == 0
    assert len(office.taken) == 2
    assert send("--arrived", "QF4LUM") == (2, "", "QF4LUM: there is no unclear mail to it\n")
    assert send("--yes", "--again", "QZ5KAR") == (2, "", "QZ5KAR: nothing was sent to it yet\n")
    # A letter that the server took and nobody ever saw goes out once more when the operator says so.
    assert send("--yes", "--again", "QJ2KAW")[0] == 0
    assert [to for _, to, _ in office.taken] == [[address(call)] for call in ("QF4LUM", "QJ2KAW", "QJ2KAW")]


def test_the_operators_word_that_it_did_not_arrive_sends_it_again(
    send: Send, season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    LedgerWriter(season.folder).path.parent.mkdir()
    entry = {"partner": "QF4LUM", "to": address("QF4LUM"), "subject": "", "kind": "first", "digest": "0"}
    LedgerWriter(season.folder).begin(NOW, "<x@y>", entry | {"period": PERIOD, "slots": [], "withdrawn": []})
    assert send("--yes")[0] == 4
    assert office.connections == 0
    code, out, _ = send("--yes", "--again", "QF4LUM")
    assert code == 0
    assert "is noted as not arrived" in out
    assert events(season) == ["sending", "lost", "sending", "sent"]
    assert len(office.taken) == 1


def test_the_word_that_it_did_not_arrive_is_about_the_last_letter(
    send: Send, season: SeasonFolder, office: PostOffice
) -> None:
    """Neither about an earlier one nor about a withdrawal that went out behind it."""
    (season.folder / "record").mkdir()
    writer = LedgerWriter(season.folder)
    for number, kind in enumerate(("first", "update", "withdrawal")):
        entry = {"partner": "QF4LUM", "to": address("QF4LUM"), "subject": "", "kind": kind, "digest": str(number)}
        writer.begin(NOW, f"<{kind}@y>", entry | {"period": PERIOD, "slots": [], "withdrawn": []})
        writer.end(NOW, f"<{kind}@y>", "sent", "250 taken")
    before = read_ledger(season.folder)
    assert sending.settle(season.folder, before, "QF4LUM", PERIOD, True, NOW) == []
    about = sending.settle(season.folder, before, "QF4LUM", PERIOD, False, NOW)
    assert [message.message_id for message in about] == ["<update@y>"]
    delivered = [one.message_id for one in read_ledger(season.folder).messages if one.delivered]
    assert delivered == ["<first@y>", "<withdrawal@y>"]


@pytest.mark.parametrize(
    ("code", "end"),
    [
        (250, DELIVERED),
        (251, UNCLEAR),
        (399, UNCLEAR),
        (400, LATER),
        (499, LATER),
        (500, REFUSED),
        (599, REFUSED),
        (600, UNCLEAR),
        (-1, UNCLEAR),
    ],
)
def test_what_a_reply_code_means(code: int, end: str) -> None:
    """RFC 5321, section 4.2.1: by its first digit; before the dot what is unclear has not arrived."""
    assert by_code(code, b"words", 250, dotted=True).result == end
    assert by_code(code, b"words", 250, dotted=False).result == (LATER if end == UNCLEAR else end)


def test_a_recipient_to_whom_the_server_forwards_is_served(season: SeasonFolder, office: PostOffice) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    office.faults = [(steps.RCPT, steps.FORWARDS)]
    made, slept = post(season, office)
    assert [one.event for one in made.send([parcel(season)])] == ["sent"]
    assert [to for _, to, _ in office.taken] == [[address("QF4LUM")]]
    assert slept == []


def test_two_runs_at_once_do_not_send_twice(
    send: Send, season: SeasonFolder, office: PostOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    monkeypatch.setattr("pipeline.record.writing.WAIT_S", 0.05)
    (season.folder / "record").mkdir()
    with FileLock(season.folder / "record" / ".lock"):
        code, out, err = send("--yes")
    assert (code, out) == (2, "")
    assert "another run of this program is writing to stations/record" in err
    assert office.connections == 0
    # A lock file that a crash has left holds nobody up.
    assert send("--yes")[0] == 0


def test_whoever_left_the_season_with_a_slot_in_hand_is_not_forgotten(send: Send, season: SeasonFolder) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    season.letter("QJ2KAW", slot("QJ2KAW"))
    assert send("--yes")[0] == 0
    text = season.season.read_text(encoding="utf-8")
    season.season.write_text(text.replace("  - {call: QF4LUM}\n", ""), encoding="utf-8")
    season.plan()
    season.letter("QJ2KAW", slot("QJ2KAW"))
    code, out, _ = send()
    assert code == 0
    assert "note: QF4LUM was offered slot A (2027-03-13 01:15 UTC) and is no partner of this season any more" in out


def test_refusals_of_one_partner_leave_the_others_alone(send: Send, season: SeasonFolder, office: PostOffice) -> None:
    for call in CALLS:
        season.letter(call, slot(call))
    office.faults = [(steps.RCPT, "550 no such user \x1b[31m")]
    code, out, _ = send("--yes")
    assert code == 2
    assert "QF4LUM    refused for qf4lum@post.example (550 no such user ?[31m)" in out
    assert events(season) == ["sending", "refused", "sending", "sent", "sending", "sent"]
    assert len(office.taken) == 2
    assert send("--yes")[0] == 0
    assert [to for _, to, _ in office.taken][-1] == [address("QF4LUM")]


def test_a_wrong_password_is_told_and_nothing_is_begun(
    send: Send, season: SeasonFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    monkeypatch.setenv("MUTUAL_MOON_MAIL_PASSWORD", "guess")
    code, _, err = send("--yes")
    assert code == 2
    assert "refuses the login of ines@basalt-tor.example (535" in err
    assert "guess" not in err
    assert events(season) == []


# --- faults at every step --------------------------------------------------------------------------------------------

BEFORE_A_SESSION = [
    (steps.BANNER, steps.CLOSE, False),
    (steps.BANNER, steps.SILENT, False),
    (steps.BANNER, "421 too busy", False),
    (steps.BANNER, "554 go away", True),
    (steps.EHLO, steps.CLOSE, False),
    (steps.EHLO, "502 what", True),
    (steps.EHLO, steps.GARBAGE, False),
    (steps.STARTTLS, steps.CLOSE, False),
    (steps.STARTTLS, "454 not now", False),
    (steps.STARTTLS, "220 go ahead, but it is none", False),
    (steps.AUTH, steps.CLOSE, False),
    (steps.AUTH, "454 later", False),
    (steps.AUTH, "535 wrong", True),
]


@pytest.mark.parametrize(("step", "fault", "lasting"), BEFORE_A_SESSION)
def test_a_fault_before_the_mail_leaves_no_trace_and_is_tried_again_if_it_may_pass(
    step: str, fault: str, lasting: bool, season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    office.faults = [(step, fault)]
    run_, slept = post(season, office)
    if lasting:
        with pytest.raises(NoSession, match="the mail server localhost, port"):
            list(run_.send([parcel(season)]))
        assert (events(season), slept, len(office.taken)) == ([], [], 0)
    else:
        assert [sent.event for sent in run_.send([parcel(season)])] == ["sent"]
        assert (events(season), slept, len(office.taken)) == (["sending", "sent"], [5.0], 1)


WITH_A_MAIL = [
    (steps.MAIL, steps.CLOSE, "sent"),
    (steps.MAIL, "451 later", "sent"),
    (steps.MAIL, "552 too big", "refused"),
    (steps.RCPT, steps.CLOSE, "sent"),
    (steps.RCPT, "450 come back later", "sent"),
    (steps.RCPT, "550 no such user", "refused"),
    (steps.DATA, steps.CLOSE, "sent"),
    (steps.DATA, steps.SILENT, "sent"),
    (steps.DATA, "451 later", "sent"),
    (steps.DATA, "554 no", "refused"),
    (steps.DOT, steps.CLOSE, "unclear"),
    (steps.DOT, steps.SILENT, "unclear"),
    (steps.DOT, steps.GARBAGE, "unclear"),
    (steps.DOT, "451 disk full", "sent"),
    (steps.DOT, "554 looks like spam", "refused"),
    (steps.QUIT, steps.CLOSE, "sent"),
    (steps.QUIT, steps.SILENT, "sent"),
]


@pytest.mark.parametrize(("step", "fault", "end"), WITH_A_MAIL)
def test_a_fault_with_the_mail_never_sends_it_twice_and_never_loses_it(
    step: str, fault: str, end: str, season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    office.faults = [(step, fault)]
    run_, slept = post(season, office)
    assert [sent.event for sent in run_.send([parcel(season)])] == [end]
    assert events(season) == ["sending", end]
    assert len(office.taken) == (0 if end == "refused" else 1)
    assert slept == ([5.0] if end == "sent" and step != steps.QUIT else [])
    assert not office.faults


def test_a_server_that_goes_in_the_middle_of_a_long_mail_gets_it_again_whole(
    season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"), text=("x" * 70 + "\n") * 60_000)
    office.faults = [(steps.MIDWAY, steps.CLOSE)]
    run_, slept = post(season, office)
    assert [sent.event for sent in run_.send([parcel(season)])] == ["sent"]
    assert slept == [5.0]
    assert len(office.taken) == 1


def test_a_server_that_puts_off_for_ever_is_left_after_a_few_tries(season: SeasonFolder, office: PostOffice) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    office.faults = [(steps.RCPT, "450 come back later")] * 9
    run_, slept = post(season, office)
    assert [(sent.event, sent.words) for sent in run_.send([parcel(season)])] == [("not-sent", "450 come back later")]
    assert slept == [5.0, 15.0]
    assert events(season) == ["sending", "not-sent"]
    assert turn_of(season.out / PERIOD / "letters", "QF4LUM", PERIOD, season.number, read_ledger(season.folder)).parcels


def test_a_server_that_wants_a_login_is_told_as_that(season: SeasonFolder, office: PostOffice) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    run_, slept = post(season, office)
    run_.settings = office.settings(user="", password="")
    ((event, words),) = [(sent.event, sent.words) for sent in run_.send([parcel(season)])]
    assert (event, slept) == ("not-sent", [])
    assert "wants a login first (530" in words


def test_a_port_where_nobody_listens_is_told(season: SeasonFolder, office: PostOffice) -> None:
    import socket

    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
    with pytest.raises(NoSession, match=r"cannot be reached: connection refused \(at the connection\)"):
        quick(office.settings(port=port))


# --- encryption ------------------------------------------------------------------------------------------------------


def test_tls_from_the_start(tmp_path: Path) -> None:
    with running(tmp_path, implicit=True) as office:
        session = quick(office.settings(security="tls"))
        assert session.deliver(SENDER, "a@post.example", b"Subject: x\r\n\r\nhello\r\n").result == "delivered"
        session.quit()


def test_a_certificate_of_another_name_or_of_nobody_is_refused(tmp_path: Path, office: PostOffice) -> None:
    with running(tmp_path, name="mail.elsewhere.example") as other, pytest.raises(NoSession, match="no good certif"):
        quick(other.settings())
    with pytest.raises(NoSession, match="no good certificate") as caught:
        quick(office.settings(authorities=""))
    assert caught.value.lasting
    assert "\n  export MUTUAL_MOON_MAIL_AUTHORITIES=certificates.pem" in str(caught.value)


def test_the_systems_authorities_are_those_of_the_usual_variable(
    office: PostOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SSL_CERT_FILE", office.authority)
    quick(office.settings(authorities="")).quit()


def test_a_server_without_encryption_gets_neither_login_nor_letter(office: PostOffice) -> None:
    office.offers_tls = False
    try:
        with pytest.raises(NoSession, match="offers no encryption"):
            quick(office.settings())
    finally:
        office.offers_tls = True


# --- crashes between the steps ---------------------------------------------------------------------------------------


class PowerCut(BaseException):
    """The process is gone: nothing after it runs."""


CUTS = ["before sending is written", "after sending is written", "before the dot", "after the dot", "before sent"]


@pytest.mark.parametrize("cut", CUTS)
def test_a_crash_between_any_two_steps_neither_loses_nor_doubles_a_letter(
    cut: str, season: SeasonFolder, office: PostOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    run_, _ = post(season, office)
    append, deliver = LedgerWriter.append, Session.deliver
    cut_off = False

    def cutting_append(self: LedgerWriter, entry: Any) -> None:
        nonlocal cut_off
        event = entry["event"]
        if cut_off or (cut, event) in (("before sending is written", "sending"), ("before sent", "sent")):
            cut_off = True
            raise PowerCut
        append(self, entry)
        if (cut, event) == ("after sending is written", "sending"):
            cut_off = True
            raise PowerCut

    def cutting_deliver(self: Session, sender: str, to: str, message: bytes, before_dot: Any) -> Any:
        nonlocal cut_off

        def at_the_dot() -> None:
            nonlocal cut_off
            if cut == "before the dot":
                cut_off = True
                raise PowerCut
            before_dot()

        outcome = deliver(self, sender, to, message, at_the_dot)
        if cut == "after the dot":
            cut_off = True
            raise PowerCut
        return outcome

    monkeypatch.setattr(LedgerWriter, "append", cutting_append)
    monkeypatch.setattr(Session, "deliver", cutting_deliver)
    with pytest.raises(PowerCut):
        list(run_.send([parcel(season)]))
    monkeypatch.setattr(LedgerWriter, "append", append)
    monkeypatch.setattr(Session, "deliver", deliver)

    ledger = read_ledger(season.folder)
    turn = turn_of(season.out / PERIOD / "letters", "QF4LUM", PERIOD, season.number, ledger)
    if cut == "before sending is written":
        assert turn.state == "ready"
        assert not office.taken
    else:
        # A line without an end: it may have arrived, so that the operator is asked.
        assert turn.state == "unclear"
    again, _ = post(season, office)
    list(again.send(turn.parcels))
    assert len(office.taken) <= 1


def test_ctrl_c_is_noted_with_what_is_known(
    season: SeasonFolder, office: PostOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))

    def stopped(*_: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Session, "envelope", stopped)
    run_, _ = post(season, office)
    with pytest.raises(KeyboardInterrupt):
        list(run_.send([parcel(season)]))
    assert events(season) == ["sending", "not-sent"]


def test_a_letter_that_was_taken_but_could_not_be_noted_is_unclear(
    season: SeasonFolder, office: PostOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    run_, _ = post(season, office)

    def full(self: LedgerWriter, *_: Any) -> None:
        raise InputFaults([])

    monkeypatch.setattr(LedgerWriter, "end", full)
    with pytest.raises(sending.Unrecorded, match="run: send --arrived QF4LUM"):
        list(run_.send([parcel(season)]))
    assert len(office.taken) == 1
    assert read_ledger(season.folder).open


# --- the ledger ------------------------------------------------------------------------------------------------------


def ready_ledger(season: SeasonFolder) -> LedgerWriter:
    (season.folder / "record").mkdir(exist_ok=True)
    return LedgerWriter(season.folder)


def begin(ledger: LedgerWriter, message_id: str = "<1@x>") -> None:
    what = {"partner": "QF4LUM", "to": address("QF4LUM"), "subject": "s", "kind": "first", "digest": "d"}
    what |= {"period": PERIOD, "slots": [slot("QF4LUM")], "withdrawn": []}
    ledger.begin(NOW, message_id, what)


def test_a_last_line_cut_anywhere_is_told_and_the_next_line_stands_whole(season: SeasonFolder) -> None:
    ledger = ready_ledger(season)
    begin(ledger)
    whole = season.ledger.read_bytes()
    ledger.end(NOW, "<1@x>", "sent", "250 ok")
    both = season.ledger.read_bytes()
    for length in range(len(whole) + 1, len(both)):
        season.ledger.write_bytes(both[:length])
        read = read_ledger(season.folder)
        # Only the line's very last character may be missing without harm.
        assert (read.torn, read.messages[0].state) == (((), "sent") if length == len(both) - 1 else ((2,), "sending"))
        begin(ledger, "<2@x>")
        read = read_ledger(season.folder)
        assert [message.message_id for message in read.messages] == ["<1@x>", "<2@x>"]
        assert read.messages[0].open == (length < len(both) - 1)


def test_a_line_damaged_otherwise_is_a_fault_and_not_forgotten(season: SeasonFolder) -> None:
    ledger = ready_ledger(season)
    begin(ledger)
    ledger.end(NOW, "<1@x>", "sent")
    text = season.ledger.read_text(encoding="utf-8")
    season.ledger.write_text(text.replace('{"event": "sending"', "{event: sending", 1), encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        read_ledger(season.folder)
    assert str(caught.value).startswith("record/sent.jsonl, line 1: the line is damaged; put the line back as it was")
    season.ledger.write_text(text.replace("2027-03-13T01:15:00Z", "soon", 1), encoding="utf-8")
    with pytest.raises(InputFaults, match="line 1: the line is no entry of this program"):
        read_ledger(season.folder)


def test_a_full_disk_leaves_the_ledger_as_it_was(season: SeasonFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    ledger = ready_ledger(season)
    begin(ledger)
    before = season.ledger.read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(InputFaults, match="no space left on device"):
        ledger.end(NOW, "<1@x>", "sent")
    assert season.ledger.read_bytes() == before


# --- settings and letters on the disk --------------------------------------------------------------------------------


def test_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    given = {"MUTUAL_MOON_MAIL_HOST": "mail.post.example"}
    assert mail_settings(given) == MailSettings("mail.post.example", 587, "starttls")
    assert mail_settings(given | {"MUTUAL_MOON_MAIL_SECURITY": "TLS"}).port == 465
    assert mail_settings(given | {"MUTUAL_MOON_MAIL_PORT": "465"}).security == "tls"
    full = given | {"MUTUAL_MOON_MAIL_USER": "ines", "MUTUAL_MOON_MAIL_PASSWORD": "secret"}
    assert mail_settings(full).password == "secret"
    assert "secret" not in repr(mail_settings(full))
    monkeypatch.setattr("keyring.get_password", lambda service, user: f"{service} {user}")
    assert mail_settings(given | {"MUTUAL_MOON_MAIL_USER": "ines"}).password == "mutual-moon ines"
    monkeypatch.setattr("keyring.get_password", lambda service, user: None)
    faulty = [
        ({"MUTUAL_MOON_MAIL_USER": "ines"}, "there is no password"),
        ({"MUTUAL_MOON_MAIL_SECURITY": "none"}, "starttls or tls"),
        ({"MUTUAL_MOON_MAIL_PORT": "many"}, "1 to 65535"),
        ({"MUTUAL_MOON_MAIL_HOST": "a b"}, "without spaces"),
        ({"MUTUAL_MOON_MAIL_AUTHORITIES": "nowhere.pem"}, "not there"),
    ]
    for wrong, words in faulty:
        with pytest.raises(MailSettingsFault, match=words):
            mail_settings(given | wrong)


def test_a_letter_that_could_smuggle_a_header_or_a_recipient_is_not_sent(season: SeasonFolder) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    folder = season.out / PERIOD / "letters" / "QF4LUM"
    good = (folder / "letter.eml").read_bytes()
    for old, new in (
        (b"To: qf4lum@post.example", b"To: qf4lum@post.example, else@post.example"),
        (b"To: qf4lum@post.example", b"To: else@post.example"),
        (b"To: qf4lum@post.example", b"To: qf4lum@post.example\r\nBcc: else@post.example"),
        (b"From: ", b"From: else@post.example\r\nFrom: "),
    ):
        assert good.count(old) == 1
        (folder / "letter.eml").write_bytes(good.replace(old, new))
        with pytest.raises(OutboxFault, match="run: letters"):
            parcel(season)
    (folder / "letter.eml").write_bytes(good)
    about = json.loads((folder / "letter.json").read_text(encoding="utf-8"))
    (folder / "letter.json").write_text(json.dumps(about | {"to": "a@b.example>\r\nDATA"}), encoding="utf-8")
    with pytest.raises(OutboxFault, match="run: letters"):
        parcel(season)


def test_only_the_date_changes_also_where_it_is_folded_or_missing() -> None:
    new = b"Date: Mon, 01 Feb 2027 10:30:00 +0000"
    for head in (b"A: b\r\nDate: x\r\nC: d", b"A: b\r\nDate: x\r\n y\r\nC: d", b"A: b\r\ndate:x\r\nC: d"):
        assert with_date(head + b"\r\n\r\nDate: body\r\n", "2027-02-01T10:30:00Z") == (
            b"A: b\r\n" + new + b"\r\nC: d\r\n\r\nDate: body\r\n"
        )
    assert with_date(b"A: b\r\n\r\nx", "2027-02-01T10:30:00Z") == new + b"\r\nA: b\r\n\r\nx"


@pytest.mark.parametrize("other", ["send", "answer"])
def test_what_another_run_did_meanwhile_counts(
    other: str, send: Send, season: SeasonFolder, office: PostOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A whole run ends after `send` has read the record and before it holds the lock: no letter goes twice, and none
    that an answer has overtaken."""
    season.letter("QF4LUM", slot("QF4LUM"))

    def in_between(place: Path) -> AbstractContextManager[Path]:
        monkeypatch.setattr(record_writing, "record_lock", record_lock)
        if other == "send":
            assert send("--yes")[0] == 0
        else:
            (season.folder / "record").mkdir()
            line = "{partner: QF4LUM, label: A, start: 2027-03-13T01:15Z, state: declined}"
            season.agenda.write_text(f"slots:\n  - {line}\n", encoding="utf-8")
        return record_lock(place)

    monkeypatch.setattr(record_writing, "record_lock", in_between)
    code, _, err = send("--yes")
    assert len(office.taken) == (1 if other == "send" else 0)
    assert (code, "run: mutual-moon plan" in err) == ((0, False) if other == "send" else (2, True))
