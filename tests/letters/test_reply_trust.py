"""Nobody else changes the agenda: senders, what the receiving server found, organizers, identifiers, repeated answers.

One From address: RFC 5322, section 3.6.2; encoded words are no addresses: RFC 2047, section 5. Results of the receiving
server: RFC 8601, sections 1.2 and 2.2, and its examples in appendix B; DMARC's: RFC 7489, section 11.2. Keyed hashes:
RFC 2104, with a test case of RFC 4231 (section 4.3).
"""

from __future__ import annotations

import hashlib
import hmac
import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.agenda.commitments import slot_identifier
from pipeline.inputs.bounds import Size
from pipeline.inputs.faults import InputFaults
from pipeline.letters.reply_mail import read_mail
from pipeline.letters.reply_mbox import read_answers
from pipeline.letters.reply_trust import failed_authentication, from_addresses
from pipeline.record.inputs import read_inputs
from pipeline.record.reading import read_record
from pipeline.record.replies_read import note_replies_read, replies_read
from pipeline.record.uid_key import random_part, read_uid_key
from pipeline.record.uid_key_writing import kept_uid_key
from tests.letters.season_folder import SENDER, SeasonFolder, address
from tests.letters.test_replies import AGENDA, BOTH, answers, mail, replies, reply, season, states

Replies = Callable[..., tuple[int, str, str]]
PARTNER = address("QF4LUM")
__all__ = ["replies", "season"]


# --- the sender ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "found"),
    [
        ([f"Lumen <{PARTNER}>"], (PARTNER,)),
        ([PARTNER.upper()], (PARTNER,)),
        ([f'"Lumen, L. <x@y.example>" <{PARTNER}>'], (PARTNER,)),
        ([f"Lumen (the (old) one) <{PARTNER}> (home)"], (PARTNER,)),
        (["=?utf-8?q?L=C3=BCmen?=\r\n <qf4lum@post.example>"], (PARTNER,)),
        # An address in the name, in a comment, in an encoded word: none of it counts.
        ([f'"{PARTNER}" <else@post.example>'], ("else@post.example",)),
        ([f"({PARTNER}) <else@post.example>"], ("else@post.example",)),
        (["=?utf-8?q?qf4lum=40post=2Eexample=3E_=3C?= <else@post.example>"], ("else@post.example",)),
        ([], ()),
    ],
)
def test_one_from_header_with_one_address_names_the_sender(values: list[str], found: tuple[str, ...]) -> None:
    assert from_addresses(values) == found


@pytest.mark.parametrize(
    "values",
    [
        [f"<{PARTNER}>", "<else@post.example>"],
        [f"<{PARTNER}>", f"<{PARTNER}>"],
        [f"<{PARTNER}>, <else@post.example>"],
        [f"{PARTNER} <else@post.example>"],
        [f"<{PARTNER}> <else@post.example>"],
        [f"Friends: {PARTNER};"],
        [f"{PARTNER}@else.example"],
        [f"{PARTNER}(else@post.example"] * 2,
        [f"<@relay.example:{PARTNER}>"],
        ["Lumen"],
        [f"{'x' * 2_000} <{PARTNER}>"],
    ],
)
def test_any_other_from_names_nobody(values: list[str]) -> None:
    assert len(from_addresses(values)) != 1


FORGED: dict[str, tuple[bytes, str]] = {
    "two headers": (
        mail(reply()).replace(b"From:", b"From: <else@post.example>\nFrom:", 1),
        "an answer with more than one sender (else@post.example, qf4lum@post.example) for ",
    ),
    "two addresses": (
        mail(reply(), From=f"<{PARTNER}>, <else@post.example>"),
        "an answer with more than one sender (qf4lum@post.example, else@post.example) for ",
    ),
    "none": (re.sub(rb"From:.*\n", b"", mail(reply()), count=1), "an answer without a sender for "),
    "encoded": (
        mail(reply()).replace(
            b"Someone <qf4lum@post.example>", b"=?utf-8?q?qf4lum=40post=2Eexample?= <else@post.example>"
        ),
        "else@post.example answers in the name of ",
    ),
    "failed": (
        b"Authentication-Results: mx.hill.example; dmarc=fail header.from=post.example\n" + mail(reply()),
        "an answer for QF4LUM slot A (2027-03-13 01:15 to 02:15 UTC) that the receiving server doubts to be from there "
        "(mx.hill.example: dmarc=fail)",
    ),
    "organizer": (
        mail(reply(more="ORGANIZER;CN=Ines:mailto:ines@else.example")),
        "an answer for QF4LUM slot A (2027-03-13 01:15 to 02:15 UTC) to an invitation of ines@else.example, who is not",
    ),
}


@pytest.mark.parametrize("name", FORGED)
def test_a_forged_answer_is_shown_with_its_line_and_never_taken(
    name: str, replies: Replies, season: SeasonFolder
) -> None:
    raw, sentence = FORGED[name]
    code, out, err = replies(x=raw)
    assert (code, err) == (0, "")
    assert out.startswith(f"x.eml: {sentence}")
    assert "nothing was changed.\n" in out
    assert f"    offered at {BOTH}\n" in out
    assert "If it is from QF4LUM all the same: mutual-moon answer QF4LUM A=yes@2027-03-13T01:15Z\n" in out
    assert season.agenda.read_text("utf-8") == AGENDA


def test_our_own_invitation_and_good_results_are_taken(replies: Replies, season: SeasonFolder) -> None:
    results = b"Authentication-Results: mx.hill.example;\n\tdkim=pass header.d=post.example;\n\tdmarc=pass\n"
    text = season.season.read_text("utf-8")
    assert SENDER in text
    replies(x=results + mail(reply(more=f"ORGANIZER;CN=Ines:MAILTO:{SENDER.upper()}")))
    assert states(season) == {"QF4LUM A": "confirmed"}


def test_a_forged_mail_in_words_is_told_with_the_doubt(replies: Replies) -> None:
    head = b"Authentication-Results: mx.hill.example; spf=fail smtp.mailfrom=post.example\n"
    _, out, _ = replies(x=head + f"From: {PARTNER}\nSubject: x\n\nA yes\n".encode())
    assert "but the receiving server doubts that it is from there (mx.hill.example: spf=fail)." in out
    two = f"From: {PARTNER}\nFrom: else@post.example\nSubject: x\n\nA yes\n"
    assert (
        "with more than one sender (qf4lum@post.example, else@post.example), QF4LUM among others." in replies(y=two)[1]
    )


# --- what the receiving server found ---------------------------------------------------------------------------------

# RFC 8601, appendix B.2 to B.6, shortened; the sender is the one of its examples.
RESULTS: list[tuple[list[str], str]] = [
    ([], ""),
    (["example.org 1; none"], ""),
    (["example.com; spf=pass smtp.mailfrom=example.net"], ""),
    (["example.com;\n auth=pass (cram-md5) smtp.auth=sender@example.net;\n spf=pass smtp.mailfrom=example.net"], ""),
    (
        ["example.com; sender-id=fail header.from=example.com; dkim=pass (good signature) header.d=example.com"],
        "",
    ),
    (
        ['example.com;\n dkim=pass reason="good; signature=fail" header.i=@mail.example.net;\n'
         ' dkim=fail reason="bad" header.i=@newyork.example.com'],
        "example.com: dkim=fail",
    ),
    # RFC 7489: DMARC decides where it has a result.
    (["mx; dmarc=fail (p=reject) header.from=example.com; spf=pass smtp.mailfrom=example.com"], "mx: dmarc=fail"),
    (["mx; spf=fail; dkim=pass header.d=example.com; dmarc=pass header.from=example.com"], ""),
    (["mx; spf=softfail smtp.mailfrom=example.com"], "mx: spf=softfail"),
    (["mx; dkim=neutral; spf=none"], ""),
    # Forwarded: the path fails, and the signature of the sender's own domain, or of one above it, holds.
    (["mx; spf=fail smtp.mailfrom=list.example; dkim=pass header.d=example.com"], ""),
    (["mx; spf=fail smtp.mailfrom=list.example; dkim=pass header.d=com"], "mx: spf=fail"),
    (["mx; spf=fail smtp.mailfrom=example.com; dkim=pass header.d=else.example"], "mx: spf=fail"),
    # What stands below is another server's, or the sender's own: it neither helps nor, under another name, harms.
    (["mx; spf=fail smtp.mailfrom=example.com", "mx; dmarc=pass"], "mx: spf=fail"),
    (["mx; spf=pass smtp.mailfrom=example.com", "else; dmarc=fail"], ""),
    (["mx; spf=pass smtp.mailfrom=example.com", "mx; dmarc=fail"], "mx: dmarc=fail"),
    # Within quotes and comments nothing counts.
    (['mx; spf=pass smtp.mailfrom=example.com (dmarc=fail; dmarc=fail)'], ""),
    (['mx; spf=pass reason="x; dmarc=fail" smtp.mailfrom=example.com'], ""),
    (["mx / 1; DMARC/1 = FAIL"], "mx: dmarc=fail"),
    (["", ";;;", "mx; dmarc"], ""),
    (["mx; " + "(" * 9_000 + " dmarc=fail"], ""),
    (['mx; "' + '\\"' * 4_900], ""),
]  # fmt: skip


@pytest.mark.parametrize(("values", "found"), RESULTS)
def test_results_of_the_receiving_server(values: list[str], found: str) -> None:
    assert failed_authentication(values, "sender@example.com") == found


# --- what undoes an agreement ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answer", "state", "follows"),
    [
        ("DECLINED", "declined", "slot A is given up, and the next plan may give its time to somebody else"),
        ("TENTATIVE", "tentative", "slot A stays, but only perhaps"),
    ],
)
def test_what_undoes_an_agreement_is_shown_first(
    answer: str, state: str, follows: str, replies: Replies, season: SeasonFolder
) -> None:
    replies(a=mail(reply()))
    assert states(season) == {"QF4LUM A": "confirmed"}
    before = season.agenda.read_bytes()
    later = mail(reply(answer=answer, DTSTAMP="DTSTAMP:20200301T070000Z"))
    code, out, err = replies("--season", "stations/season.yaml", b=later)
    assert (code, err) == (0, "")
    assert "; to be noted.\n" in out
    assert f"    this undoes what was agreed (confirmed), by qf4lum@post.example: {follows}\n" in out
    assert "    before: confirmed, 2027-03-13 01:15 UTC\n" in out
    assert "1 slot to be noted; nothing was changed yet. If this is right: mutual-moon replies answers --yes\n" in out
    assert season.agenda.read_bytes() == before
    assert "; noted.\n" in replies()[1]
    assert states(season) == {"QF4LUM A": state}


def test_nothing_is_written_before_yes(replies: Replies, season: SeasonFolder) -> None:
    before = {path: path.read_bytes() for path in season.folder.rglob("*") if path.is_file()}
    for _ in range(2):
        assert "1 slot to be noted" in replies("--season", "stations/season.yaml", a=mail(reply()))[1]
    assert {path: path.read_bytes() for path in season.folder.rglob("*") if path.is_file()} == before


def test_an_answer_to_a_time_that_is_not_the_agreed_one_is_only_told(replies: Replies, season: SeasonFolder) -> None:
    line = "  - {partner: QF4LUM, label: A, start: 2027-03-21T03:00Z, end: 2027-03-21T04:00Z, state: fixed}\n"
    season.agenda.write_text(AGENDA + line, encoding="utf-8")
    _, out, _ = replies(a=mail(reply()))
    assert "the record has fixed for another time, 2027-03-21 03:00 to 04:00 UTC, so it was left alone." in out
    assert season.agenda.read_text("utf-8") == AGENDA + line
    # A slot of another month under the same letter has nothing to do with it.
    season.agenda.write_text(AGENDA + line.replace("2027-03-21", "2027-02-21"), encoding="utf-8")
    replies(b=mail(reply(DTSTAMP="DTSTAMP:20200211T000000Z")))
    assert answers(season)["QF4LUM", "A"].start_utc.month == 3


def test_an_answer_after_the_night_changes_nothing(replies: Replies, season: SeasonFolder) -> None:
    line = "  - {partner: QF4LUM, label: A, start: 2027-03-13T01:15Z, end: 2027-03-13T02:15Z, state: confirmed, outcome: made}\n"  # fmt: skip # noqa: E501
    season.agenda.write_text(AGENDA + line, encoding="utf-8")
    assert "the record says how it went: made, so it was left alone." in replies(a=mail(reply(answer="DECLINED")))[1]
    assert season.agenda.read_text("utf-8") == AGENDA + line


# --- repeated answers, and whole folders -----------------------------------------------------------------------------


def test_an_old_yes_sent_once_more_does_not_overturn_a_later_no(replies: Replies, season: SeasonFolder) -> None:
    first = mail(reply())
    replies(a=first, b=mail(reply(answer="DECLINED", DTSTAMP="DTSTAMP:20200212T070000Z")))
    assert states(season) == {"QF4LUM A": "declined"}
    _, out, _ = replies(c=b"X-Copy: 1\n" + first)
    assert "the record has declined of 2020-02-12 07:00 UTC, which is later, so it was left alone." in out
    assert states(season) == {"QF4LUM A": "declined"}
    # The same file under another name is no news at all.
    assert replies(d=first)[1] == "4 settled before and not shown again; with --all they are.\n\nNothing new.\n"


def test_a_letter_with_another_sequence_and_the_same_time_is_not_stale(replies: Replies, season: SeasonFolder) -> None:
    """After a yes the plan raises SEQUENCE, for the status has changed: the answer is still to this time."""
    text = season.ledger.read_text("utf-8").splitlines()
    entry = json.loads(text[0])
    entry["slots"][0]["sequence"] = 3
    entry["message_id"] = "<later@basalt-tor.example>"
    end = json.loads(text[1]) | {"message_id": entry["message_id"]}
    season.ledger.write_text("\n".join([*text, json.dumps(entry), json.dumps(end)]) + "\n", "utf-8")
    replies(a=mail(reply(SEQUENCE="SEQUENCE:0")))
    assert states(season) == {"QF4LUM A": "confirmed"}


def test_answers_are_read_from_a_maildir(replies: Replies, season: SeasonFolder) -> None:
    """Whole mails in `cur` and `new`; what is in `tmp` is not finished (the format's own rule, from memory)."""
    folder = season.root / "answers"
    for name in ("cur", "new", "tmp"):
        (folder / name).mkdir()
    assert replies() == (3, "", "answers: no .eml and no .ics file is in it.\n")
    (folder / "cur" / "1800000001.M1P1.hill:2,S").write_bytes(mail(reply()))
    (folder / "new" / "1800000002.M1P1.hill").write_bytes(mail(reply("QJ2KAW"), call="QJ2KAW"))
    (folder / "tmp" / "1800000003.M1P1.hill").write_bytes(mail(reply(answer="DECLINED", DTSTAMP="DTSTAMP:20210101T000000Z")))  # fmt: skip # noqa: E501
    (folder / "cur" / ".hidden").write_bytes(b"x")
    for number in range(40):
        (folder / "cur" / f"18000001{number:02d}.M1P1.hill:2,S").write_text(
            "From: else@post.example\n\nhello\n", "utf-8"
        )
    _, out, _ = replies()
    assert states(season) == {"QF4LUM A": "confirmed", "QJ2KAW A": "confirmed"}
    assert out.count("a mail from else@post.example, which is no partner's address.") == 5
    assert "35 more of others, left alone." in out
    # A mail that a program has marked and moved since is the same mail.
    (folder / "new" / "1800000002.M1P1.hill").rename(folder / "cur" / "1800000002.M1P1.hill:2,RS")
    assert replies() == (0, "42 settled before and not shown again; with --all they are.\n\nNothing new.\n", "")


def mbox(*mails: bytes, end: bytes = b"\n") -> bytes:
    """Mails in one file: a line `From ` before each, an empty one behind it (RFC 4155)."""
    whole = b"".join(b"From a@b.example Sat Jan  9 10:00:00 2021\n" + one.rstrip(b"\n") + b"\n\n" for one in mails)
    return whole.replace(b"\n", end)


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_answers_are_read_from_an_mbox_file(replies: Replies, season: SeasonFolder, end: bytes) -> None:
    file = season.root / "answers"
    shutil.rmtree(file)
    file.write_bytes(b"")
    assert replies() == (3, "", "answers: no mail is in it.\n")
    file.write_bytes(b"To: somebody\n\nhello\n")
    assert "answers: not read: it is no mailbox, for it does not begin with a line `From `" in replies()[1]
    others = [b"From: else@post.example\n\nhello %d\n" % number for number in range(8)]
    first, second = mail(reply()), mail(reply("QJ2KAW"), call="QJ2KAW")
    file.write_bytes(mbox(first, *others, second, end=end))
    _, out, _ = replies()
    assert states(season) == {"QF4LUM A": "confirmed", "QJ2KAW A": "confirmed"}
    assert "3 more of others, left alone." in out
    # What a mail program notes in the file when a mail was read makes no news.
    notes = b"Status: RO\nX-Status: A\nX-Keywords: seen\n  more\nX-UID: 7\n"
    file.write_bytes(mbox(*(notes + one for one in (first, *others, second)), end=end))
    assert replies()[1].startswith("10 settled before and not shown again")


def test_an_mbox_file_has_the_bounds_of_the_others(
    season: SeasonFolder, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "box"
    file.write_bytes(mbox(*(b"From: else@post.example\n\nhello %d" % number for number in range(4))))
    monkeypatch.setattr("pipeline.letters.reply_mbox.MOST_FILES", 2)
    first, *mails = read_answers(file)
    assert first.fault == "it holds 4 mails; 2 are read at once, the last ones"
    assert [one.file for one in mails] == ["box, mail 3", "box, mail 4"]
    assert mails[0].lines == ("hello 2",)
    monkeypatch.setattr("pipeline.letters.reply_mbox.REPLY", Size(10, ", and no answer is that long"))
    assert read_answers(file)[1].fault == "it is over 10 bytes, and no answer is that long"
    monkeypatch.setattr("pipeline.letters.reply_mbox.MAILBOX", Size(10, "; copy"))
    assert read_answers(file)[0].fault == "it is over 10 bytes; copy"


def test_more_mails_than_are_read_at_once_are_told(
    replies: Replies, season: SeasonFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.letters.reply_mail.MOST_FILES", 1)
    _, out, _ = replies(a=b"From: else@post.example\n\nhello", b=mail(reply()))
    assert "answers: not read: it holds 2 files; 1 are read at once, the last by name." in out
    assert states(season) == {"QF4LUM A": "confirmed"}


def test_what_was_settled_is_noted_whole_and_damage_only_shows_more(season: SeasonFolder) -> None:
    digests = [hashlib.sha256(bytes([one])).hexdigest() for one in range(3)]
    note_replies_read(season.folder, digests[:2])
    note_replies_read(season.folder, digests[1:])
    file = season.folder / "record" / "replies_read.txt"
    assert file.read_text("ascii").splitlines() == sorted(digests)
    file.write_bytes(b"\xff\x00 nonsense\n" + digests[0].encode() + b"\nabc")
    assert replies_read(season.folder) == {digests[0]}
    file.unlink()
    assert replies_read(season.folder) == frozenset()


# --- identifiers -----------------------------------------------------------------------------------------------------


def test_the_random_part_is_a_keyed_hash() -> None:
    # RFC 4231, test case 2: key "Jefe", data "what do ya want for nothing?".
    known = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert random_part(b"Jefe".hex(), "what do ya want for nothing?") == known[:16]
    assert hmac.new(b"Jefe", b"what do ya want for nothing?", hashlib.sha256).hexdigest() == known


def test_nobody_makes_up_an_identifier_from_another_one() -> None:
    key = "00112233445566778899aabbccddeeff"
    one = slot_identifier("QM7TOR-QP1LUM/P-3cm-2027-03-A", key)
    assert re.fullmatch(r"qm7tor-qp1lum-p-3cm-2027-03-a-[0-9a-f]{16}@mutual-moon\.invalid", one)
    assert one == slot_identifier("qm7tor-qp1lum-p-3cm-2027-03-a", key)
    other = slot_identifier("QM7TOR-QP1LUM/P-3cm-2027-03-B", key)
    assert one.partition("@")[0][-16:] != other.partition("@")[0][-16:]
    assert slot_identifier("QM7TOR-QF4LUM-3cm-2027-03-A", "") == "qm7tor-qf4lum-3cm-2027-03-a@mutual-moon.invalid"
    assert slot_identifier("QM7TOR-QF4LUM-3cm-2027-03-A", key[::-1]) != slot_identifier(
        "QM7TOR-QF4LUM-3cm-2027-03-A", key
    )


def test_the_key_is_drawn_once_and_is_no_input_of_a_plan(season: SeasonFolder) -> None:
    before = read_inputs(season.season)
    assert before.record.uid_key == ""
    key = kept_uid_key(season.folder)
    assert re.fullmatch(r"[0-9a-f]{32}", key)
    assert kept_uid_key(season.folder) == key == read_uid_key(season.folder)
    after = read_inputs(season.season)
    assert after.record.uid_key == key
    assert after.digest == before.digest


@pytest.mark.parametrize("raw", [b"", b"abc\n", b"\xff" * 32, b"0" * 33, b"G" * 32])
def test_a_damaged_key_is_told_and_never_replaced(raw: bytes, season: SeasonFolder) -> None:
    file = season.folder / "record" / "uid_key.txt"
    file.write_bytes(raw)
    with pytest.raises(InputFaults, match=r"record/uid_key.txt, line 1: 32 hexadecimal digits are meant"):
        kept_uid_key(season.folder)
    assert file.read_bytes() == raw
    calls = ("QF4LUM",)
    assert [fault.file for fault in read_record(season.folder, None, "QM7TOR", calls).faults] == ["record/uid_key.txt"]


def test_a_key_that_cannot_be_written_leaves_none(season: SeasonFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pipeline.record.writing.write_file", fails)
    with pytest.raises(InputFaults, match="no space left on device"):
        kept_uid_key(season.folder)
    assert sorted(path.name for path in (season.folder / "record").glob("*uid*")) == []


def test_an_answer_to_a_made_up_identifier_is_a_strangers(replies: Replies, season: SeasonFolder) -> None:
    """With a key in the record, calls, band, month and letter do not make an identifier of ours any more."""
    kept_uid_key(season.folder)
    _, out, _ = replies(a=mail(reply("QZ5KAR", "B"), call="QZ5KAR"))
    assert "a.eml: an answer to qm7tor-qz5kar-3cm-2027-03-b@mutual-moon.invalid, which was never sent from here." in out
    ours = slot_identifier("qm7tor-qz5kar-3cm-2027-03-b", read_uid_key(season.folder))
    _, out, _ = replies(b=mail(reply("QZ5KAR", "B", UID=f"UID:{ours}"), call="QZ5KAR"))
    assert "b.eml: an answer of QZ5KAR to slot B, which send has not sent" in out
    wrong = ours.replace(ours[-40:-30], "0" * 10)
    _, out, _ = replies(c=mail(reply("QZ5KAR", "B", UID=f"UID:{wrong}"), call="QZ5KAR"))
    assert "which was never sent from here." in out
    assert season.agenda.read_text("utf-8") == AGENDA


def test_mails_keep_what_trust_needs(tmp_path: Path) -> None:
    raw = b"Authentication-Results: mx; dmarc=fail\r\n" + mail(reply(more="ORGANIZER;EMAIL=I@b.example:urn:x"))
    read = read_mail(raw, "x.eml")
    assert (read.sender, read.failed, read.digest) == (PARTNER, "mx: dmarc=fail", hashlib.sha256(raw).hexdigest())
    assert read.events[0].organizer == "i@b.example"
