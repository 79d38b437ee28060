"""What the operator told by hand counts as told; copies of mails stay and mails thread; what a stopped run says.

In-Reply-To and References: RFC 5322, section 3.6.4.
"""

from __future__ import annotations

import datetime as dt
import email
import email.policy
import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.cli import run
from pipeline.letters.delivery import Session
from pipeline.letters.holding import held_by
from pipeline.letters.outbox import with_thread
from pipeline.record.ledger import read_ledger
from pipeline.record.ledger_writing import LedgerWriter
from pipeline.record.model import Answer
from tests.letters import post_office as steps
from tests.letters.post_office import PostOffice
from tests.letters.season_folder import CALLS, SeasonFolder, address, slot
from tests.letters.test_sending import NOW, begin, events, read_record, ready_ledger

Type = Callable[..., tuple[int, str, str]]


@pytest.fixture
def type_(
    season: SeasonFolder, office: PostOffice, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Type:
    """Types a command in the season's place."""
    monkeypatch.chdir(season.root)
    for name, value in office.environment().items():
        monkeypatch.setenv(name, value)

    def typing(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["mutual-moon", *words])
        code = run()
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return typing


def copies(season: SeasonFolder) -> dict[str, bytes]:
    folder = season.folder / "record" / "sent"
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())} if folder.is_dir() else {}


# --- told by hand ----------------------------------------------------------------------------------------------------


def test_told_by_hand_is_in_the_ledger_as_a_mail_would_be_and_nothing_leaves(
    type_: Type, season: SeasonFolder, office: PostOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("MUTUAL_MOON_MAIL_HOST")
    season.letter("QF4LUM", slot("QF4LUM"))
    season.letter("QJ2KAW", slot("QJ2KAW", day=15), to="")
    assert "once told:       mutual-moon send --by-hand QJ2KAW" in type_("send")[1]
    code, out, err = type_("send", "--by-hand", "qf4lum", "QJ2KAW", "--way", "telephone")
    assert (code, err, office.connections) == (0, "", 0)
    assert "QF4LUM    noted as told by hand: first letter, slot A" in out
    assert "A: Fri 12 Mar 2027 22:15 to 23:15 (UTC−3) here, Sat 13 Mar 2027 02:15 to 03:15 (UTC+1) there" in out
    assert events(season) == ["by-hand", "by-hand"]
    assert [(entry["partner"], entry["way"]) for entry in season.entries()] == [
        ("QF4LUM", "telephone"), ("QJ2KAW", "telephone"),
    ]  # fmt: skip
    offers = {offer.partner: offer for offer in read_record(season)}
    assert {call: (one.label, one.sequence, one.withdrawn) for call, one in offers.items()} == {
        "QF4LUM": ("A", 0, False), "QJ2KAW": ("A", 0, False),
    }  # fmt: skip
    assert copies(season) == {}
    # Told twice is told once.
    code, out, _ = type_("send", "--by-hand", "QF4LUM", "QJ2KAW")
    assert code == 0
    assert out.count("noted already since 20") == 2
    assert events(season) == ["by-hand", "by-hand"]
    out = type_("send")[1]
    assert out.count("nothing new since 20") == 2
    assert out.count(", told by hand, telephone") == 2


def test_what_moves_after_that_is_a_move_for_chat_and_mail(type_: Type, season: SeasonFolder) -> None:
    season.letter("QJ2KAW", slot("QJ2KAW"), to="")
    assert type_("send", "--by-hand", "QJ2KAW", "--way", "chat")[0] == 0
    season.letter("QJ2KAW", slot("QJ2KAW", day=20, sequence=1), to="", text="moved")
    assert "once told" in type_("send")[1]
    assert "noted as told by hand: update: A moved" in type_("send", "--by-hand", "QJ2KAW", "--way", "chat")[1]
    (offer,) = read_record(season)
    assert (offer.sequence, offer.start_utc.day) == (1, 20)
    # A message that was made before that one would take it back.
    season.letter("QJ2KAW", slot("QJ2KAW"), to="", text="old")
    code, _, err = type_("send", "--by-hand", "QJ2KAW")
    assert (code, "is older than what was sent last (slot A)" in err) == (2, True)


def test_a_withdrawal_is_told_with_the_letter(type_: Type, season: SeasonFolder) -> None:
    season.letter("QF4LUM", slot("QF4LUM", "A"), slot("QF4LUM", "B", day=14))
    assert type_("send", "--by-hand", "QF4LUM")[0] == 0
    season.letter("QF4LUM", slot("QF4LUM", "A"), text="one less")
    season.letter("QF4LUM", slot("QF4LUM", "B", day=14, sequence=1, state="withdrawn"), stem="withdrawal")
    out = type_("send", "--by-hand", "QF4LUM")[1]
    assert "withdrawal of slot B" in out
    assert {one.label: one.withdrawn for one in read_record(season)} == {"A": False, "B": True}
    assert "QF4LUM    nothing new since" in type_("send")[1]


def test_an_answer_is_about_the_time_that_was_told(type_: Type, season: SeasonFolder) -> None:
    season.letter("QF4LUM", slot("QF4LUM", day=20))
    assert type_("send", "--by-hand", "QF4LUM", "--way", "mail")[0] == 0
    assert "QF4LUM A  2027-03-20 01:15 to 02:15 UTC: confirmed" in type_("answer", "QF4LUM", "A=yes")[1]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--by-hand",), "told by hand is noted alone, with the calls: mutual-moon send --by-hand CALL --way chat"),
        (("QF4LUM",), "whom you told yourself is noted by hand; write\n  mutual-moon send QF4LUM --by-hand\n"),
        (("--way", "chat"), "told by hand is noted alone, with the calls"),
        (("--by-hand", "QF4LUM", "--yes"), "what you told yourself is noted at once, without --yes"),
        (("--by-hand", "QF4LUM", "--way", "pigeon"), "--way pigeon is not known; there is mail, chat, telephone"),
        (("--by-hand", "QX1ABC"), "QX1ABC is no partner of this season"),
        (("--by-hand", "QZ5KAR"), "QZ5KAR: no letter was made for it"),
    ],
)
def test_wrong_words_note_nothing(words: tuple[str, ...], said: str, type_: Type, season: SeasonFolder) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    code, _, err = type_("send", *words)
    assert code == 2
    assert said in err
    assert not season.ledger.exists()


def test_an_unclear_mail_is_settled_first(type_: Type, season: SeasonFolder) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    begin(ready_ledger(season))
    code, _, err = type_("send", "--by-hand", "QF4LUM")
    assert (code, "mutual-moon send --arrived QF4LUM" in err) == (4, True)
    assert events(season) == ["sending"]


# --- copies and threads ----------------------------------------------------------------------------------------------


def test_a_copy_stays_of_each_mail_as_it_left_and_later_mails_thread(
    type_: Type, season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"), slot("QF4LUM", "B", day=14))
    assert type_("send", "--yes")[0] == 0
    season.letter("QF4LUM", slot("QF4LUM"), text="one less")
    season.letter("QF4LUM", slot("QF4LUM", "B", day=14, sequence=1, state="withdrawn"), stem="withdrawal")
    path = season.out / "2027-03" / "letters" / "QF4LUM" / "letter.eml"
    path.write_bytes(path.read_bytes().replace(b"<letter-qf4lum@", b"<second-qf4lum@"))
    assert type_("send", "--yes")[0] == 0
    assert sorted(copies(season).values()) == sorted(content for _, _, content in office.taken)
    named = [entry["copy"] for entry in season.entries() if entry["event"] == "sending"]
    assert [copies(season)[name] for name in named] == [content for _, _, content in office.taken]
    mails = [email.message_from_bytes(content, policy=email.policy.default) for _, _, content in office.taken]
    ids = [str(mail["Message-ID"]) for mail in mails]
    assert [mail["In-Reply-To"] for mail in mails] == [None, ids[0], ids[1]]
    assert [str(mail["References"] or "").split() for mail in mails] == [[], ids[:1], ids[:2]]
    # RFC 5322, section 2.1.1.
    heads = [content.partition(b"\r\n\r\n")[0] for content in copies(season).values()]
    assert max(len(line) for head in heads for line in head.split(b"\r\n")) <= 78


def test_a_mail_answers_no_chat(type_: Type, season: SeasonFolder, office: PostOffice) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    assert type_("send", "--by-hand", "QF4LUM", "--way", "chat")[0] == 0
    season.letter("QF4LUM", slot("QF4LUM", day=20, sequence=1), text="moved")
    path = season.out / "2027-03" / "letters" / "QF4LUM" / "letter.eml"
    path.write_bytes(path.read_bytes().replace(b"<letter-qf4lum@", b"<second-qf4lum@"))
    assert type_("send", "--yes")[0] == 0
    ((_, _, content),) = office.taken
    assert email.message_from_bytes(content, policy=email.policy.default)["In-Reply-To"] is None


def test_a_long_thread_names_its_first_and_its_latest_mails() -> None:
    ids = [f"<{number}@x>" for number in range(30)]
    mail = email.message_from_bytes(with_thread(b"A: b\r\n\r\nx", ids), policy=email.policy.default)
    assert str(mail["References"]).split() == [ids[0], *ids[-20:]]
    assert mail["In-Reply-To"] == ids[-1]
    assert with_thread(b"A: b\r\n\r\nx", []) == b"A: b\r\n\r\nx"


def test_no_copy_stays_of_a_mail_that_did_not_leave_and_half_ones_are_swept(
    type_: Type, season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    folder = season.folder / "record" / "sent"
    folder.mkdir(parents=True)
    (folder / "x.eml.new").write_bytes(b"half")
    (folder / "mine.eml").write_bytes(b"put there by hand")
    office.faults = [(steps.RCPT, "550 no such user")]
    assert type_("send", "--yes")[0] == 2
    assert set(copies(season)) == {"mine.eml"}
    office.faults = [(steps.DOT, steps.CLOSE)]
    assert type_("send", "--yes")[0] == 4
    assert len(copies(season)) == 2


def test_what_a_partner_holds_is_told(type_: Type, season: SeasonFolder) -> None:
    assert type_("letters", "--shown", "QF4LUM") == (0, "QF4LUM was told of no slot yet\n", "")
    season.letter("QF4LUM", slot("QF4LUM"), slot("QF4LUM", "B", day=14))
    assert type_("send", "--yes")[0] == 0
    season.letter("QF4LUM", slot("QF4LUM", day=20, sequence=1), text="moved")
    season.letter("QF4LUM", slot("QF4LUM", "B", day=14, sequence=1, state="withdrawn"), stem="withdrawal")
    assert type_("send", "--by-hand", "QF4LUM", "--way", "chat")[0] == 0
    assert type_("answer", "QF4LUM", "A=yes@2027-03-20T01:15Z")[0] == 0
    code, out, _ = type_("letters", "--shown", "qf4lum")
    assert code == 0
    lines = [line.strip() for line in out.splitlines() if line]
    stamp = season.entries()[-1]["stamp"]
    how = f"told {stamp[:10]} {stamp[11:16]} UTC by hand, chat"
    assert lines == [
        "QF4LUM holds 1 slot, as it was told:",
        "B  Sat 13 Mar 2027 22:15 to 23:15 (UTC−3) here, Sun 14 Mar 2027 02:15 to 03:15 (UTC+1) there",
        f"withdrawn, {how}",
        "A  Fri 19 Mar 2027 22:15 to 23:15 (UTC−3) here, Sat 20 Mar 2027 02:15 to 03:15 (UTC+1) there",
        f"proposed, {how}",
        "its answer: yes",
    ]
    assert type_("letters", "--shown", "QF4LUN")[:2] == (2, "")


def test_a_slot_that_moved_is_answered_for_by_its_own_line(type_: Type, season: SeasonFolder) -> None:
    """The time that it left was refused, under no letter, and lies where the letter had the slot."""
    season.letter("QF4LUM", slot("QF4LUM"))
    assert type_("send", "--yes")[0] == 0
    ledger = read_ledger(season.folder)
    told = held_by("QF4LUM", ledger, ())[0].slot
    hour, later = told.end_utc - told.start_utc, told.start_utc + dt.timedelta(days=1)
    refused = Answer("QF4LUM", "", told.start_utc, told.end_utc, "declined", "QM7TOR", 1)
    moved = Answer("QF4LUM", "A", later, later + hour, "confirmed", "QM7TOR", 2)
    assert [one.answer for one in held_by("QF4LUM", ledger, (refused, moved))] == [moved]
    assert [one.answer for one in held_by("QF4LUM", ledger, (refused,))] == [refused]


def test_what_came_by_mail_names_its_copy(type_: Type, season: SeasonFolder, office: PostOffice) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    office.faults = [(steps.DOT, steps.CLOSE)]
    assert type_("send", "--yes")[0] == 4
    (name,) = copies(season)
    assert name.endswith("-QF4LUM-letter.eml")
    out = type_("letters", "--shown", "QF4LUM")[1]
    how = f"UTC by mail to {address('QF4LUM')}, and it is unclear whether that arrived"
    assert f"{how}; copy: stations/record/sent/{name}" in out
    assert Path("stations/record/sent", name).is_file()


# --- stopped and cut off ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("late", [False, True], ids=["before the dot", "after the dot"])
def test_ctrl_c_says_what_is_unclear(
    late: bool, type_: Type, season: SeasonFolder, office: PostOffice, monkeypatch: pytest.MonkeyPatch
) -> None:
    for call in CALLS:
        season.letter(call, slot(call))
    deliver, calls = Session.deliver, [0]

    def stopped(self: Session, sender: str, to: str, message: bytes, before_dot: Callable[[], None]) -> object:
        calls[0] += 1
        if calls[0] == 2 and not late:
            raise KeyboardInterrupt
        outcome = deliver(self, sender, to, message, before_dot)
        if calls[0] == 2:
            raise KeyboardInterrupt
        return outcome

    monkeypatch.setattr(Session, "deliver", stopped)
    code, out, err = type_("send", "--yes")
    assert "QF4LUM    sent to" in out
    if late:
        assert code == 4
        assert "QJ2KAW    unclear: the mail of" in out
        assert "mutual-moon send --arrived QJ2KAW" in out
        assert err == "1 mail is still to be sent: mutual-moon send --yes\nstopped\n"
        assert events(season) == ["sending", "sent", "sending", "unclear"]
    else:
        assert code == 130
        assert err == "nothing is unclear\n2 mails are still to be sent: mutual-moon send --yes\nstopped\n"
        assert events(season) == ["sending", "sent", "sending", "not-sent"]


@pytest.mark.parametrize(
    ("cut", "said"),
    [
        (
            '{"event": "sent", "sta',
            "it began to say that the mail server took the mail of 2027-02-01T10:30:00Z to QF4LUM",
        ),
        ('{"event": "refused", "sta', "it was to say how the mail of 2027-02-01T10:30:00Z to QF4LUM ended, which is"),
        ('{"ev', "it may have been to say how the mail of 2027-02-01T10:30:00Z to QF4LUM ended, which is unclear"),
    ],
)
def test_a_cut_line_about_a_mail_that_may_have_left_is_told_truly_and_once(
    cut: str, said: str, type_: Type, season: SeasonFolder
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    begin(ready_ledger(season))
    with season.ledger.open("a", encoding="utf-8") as stream:
        stream.write(cut)
    code, out, _ = type_("send", "--yes")
    assert code == 4
    assert f"note: line 2 of stations/record/sent.jsonl was cut off while it was written; {said}" in out
    assert "nothing left with it" not in out
    assert out.count("QF4LUM    unclear: the mail of") == 1
    code, out, _ = type_("send", "--yes")
    assert (code, "cut off" in out) == (4, False)


@pytest.mark.parametrize(
    ("cut", "said"),
    [
        ('{"event": "sending", "sta', "nothing left with it."),
        ('{"event": "by-hand", "sta', "it was to note what you told by hand: note it again with send --by-hand"),
    ],
)
def test_a_cut_line_with_which_nothing_left_is_told_so(
    cut: str, said: str, type_: Type, season: SeasonFolder, office: PostOffice
) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    writer: LedgerWriter = ready_ledger(season)
    begin(writer)
    writer.end(NOW, "<1@x>", "not-sent")
    with season.ledger.open("a", encoding="utf-8") as stream:
        stream.write(cut)
    code, out, _ = type_("send", "--yes")
    assert (code, len(office.taken)) == (0, 1)
    assert f"note: line 3 of stations/record/sent.jsonl was cut off while it was written; {said}" in out
    assert read_ledger(season.folder).torn == (3,)
    assert "cut off" not in type_("send")[1]


def test_a_yes_of_somebody_who_left_the_season_is_told(type_: Type, season: SeasonFolder) -> None:
    season.letter("QF4LUM", slot("QF4LUM"))
    season.letter("QJ2KAW", slot("QJ2KAW", day=15), to="")
    assert type_("send", "--yes")[0] == 0
    assert type_("answer", "QF4LUM", "A=yes")[0] == 0
    text = season.season.read_text(encoding="utf-8")
    season.season.write_text(text.replace("  - {call: QF4LUM}\n", ""), encoding="utf-8")
    season.plan()
    season.letter("QJ2KAW", slot("QJ2KAW", day=15), to="")
    out = type_("send")[1]
    said = "note: QF4LUM said yes to slot A (2027-03-13 01:15 UTC) and is no partner of this season any more"
    assert out.count(said) == 1
    # Also where only a chat knows of it.
    season.ledger.unlink()
    assert type_("send")[1].count(said) == 1


def test_the_ledger_keeps_values_and_not_digests_alone(type_: Type, season: SeasonFolder) -> None:
    values = {
        "home_mhz": 10368.1, "partner_mhz": 10368.2, "mode": "CW", "opener": "home", "meet": "on the hill",
        "listen_hz": [10368100000.0, 10368090000.0], "send_hz": [10368200000.0, 10368200000.0],
    }  # fmt: skip
    known = {"stamp": "2026-03-01T00:00:00Z", "content": "abc", "told": values}
    season.letter("QF4LUM", slot("QF4LUM") | known)
    assert type_("send", "--by-hand", "QF4LUM")[0] == 0
    assert season.entries()[0]["slots"] == [slot("QF4LUM") | known]
    assert "you send on 10368.1 MHz, it on 10368.2 MHz; CW; you send first" in type_("letters", "--shown", "QF4LUM")[1]
    season.letter("QF4LUM", slot("QF4LUM") | known | {"told": values | {"mode": "Q65"}}, text="other")
    assert "update: A new mode" in type_("send")[1]
    # A letter stamped before the one that was told would be passed over by every calendar.
    season.letter("QF4LUM", slot("QF4LUM") | known | {"stamp": "2026-02-28T00:00:00Z"}, text="old")
    assert "is older than what was sent last" in type_("send")[2]
    for spoiled in ({"told": values | {"home_mhz": "many"}}, {"stamp": "soon"}, {"told": []}):
        season.letter("QF4LUM", slot("QF4LUM") | known | spoiled)
        assert "the letter is damaged" in type_("send")[2]
    assert json.loads(season.ledger.read_text(encoding="utf-8"))["event"] == "by-hand"
