"""What a refusal is about, at each step, and what is advised; a server that repeats the password shows it to nobody.

Against a mail server on the loopback that misbehaves by script, inside TLS. Enhanced status codes: RFC 3463; replies:
RFC 5321, sections 4.2.2 and 4.3.2; 552 to a declared size: RFC 1870 (texts from memory).
"""

from __future__ import annotations

import base64
from collections.abc import Callable

import pytest

from pipeline.letters.delivery import NoSession, Session
from pipeline.letters.refusals import Concern, concern_of
from pipeline.letters.secrets import holds_secret
from pipeline.letters.settings import MailSettings
from tests.letters import post_office as steps
from tests.letters.post_office import PASSWORD, USER, PostOffice
from tests.letters.season_folder import CALLS, SENDER, SeasonFolder, address, slot
from tests.letters.test_sending import events, parcel, post, send  # noqa: F401

Send = Callable[..., tuple[int, str, str]]
ME, THEM = SENDER, address("QF4LUM")
# What a server says, at which step, and what that is about.
SCRIPTS = [
    (steps.MAIL, "550 you may not send", Concern.SENDER),
    (steps.MAIL, "553 5.7.1 not owned by your login", Concern.SENDER),
    (steps.MAIL, "550 5.1.8 sender domain not found", Concern.SENDER),
    (steps.MAIL, "501 5.1.7 bad sender address syntax", Concern.SENDER),
    (steps.MAIL, "554 5.3.2 system takes no mail", Concern.SERVER),
    (steps.MAIL, "503 5.5.1 bad sequence", Concern.SERVER),
    (steps.MAIL, "552 message size exceeds fixed limit", Concern.SIZE),
    (steps.MAIL, "552 5.3.4 message too big", Concern.SIZE),
    (steps.RCPT, "550 no such user", Concern.ADDRESS),
    (steps.RCPT, "550 5.1.1 no such mailbox", Concern.ADDRESS),
    (steps.RCPT, "551 user not local", Concern.ADDRESS),
    (steps.RCPT, "553 mailbox name not allowed", Concern.ADDRESS),
    (steps.RCPT, "550 5.2.1 mailbox disabled", Concern.ADDRESS),
    (steps.RCPT, "556 5.1.10 domain takes no mail", Concern.ADDRESS),
    (steps.RCPT, "552 5.2.2 mailbox full", Concern.FULL),
    (steps.RCPT, "552 over quota", Concern.FULL),
    (steps.RCPT, "550 5.4.4 unable to route", Concern.ADDRESS),
    (steps.RCPT, "554 5.3.0 system trouble", Concern.UNKNOWN),
    (steps.RCPT, "550 5.2.3 longer than this mailbox takes", Concern.SIZE),
    (steps.RCPT, "554 5.7.1 relay access denied", Concern.PERMISSION),
    (steps.RCPT, f"553 5.7.1 <{ME}>: sender address rejected", Concern.SENDER),
    (steps.RCPT, f"550 5.7.1 <{THEM}>: not from you", Concern.PERMISSION),
    (steps.DATA, "554 no valid recipients", Concern.UNKNOWN),
    (steps.DATA, "503 5.5.1 bad sequence", Concern.UNKNOWN),
    (steps.DOT, "554 looks like spam", Concern.MAIL),
    (steps.DOT, "550 5.7.1 content refused by policy", Concern.MAIL),
    (steps.DOT, "550 5.6.0 bad content", Concern.MAIL),
    (steps.DOT, "552 5.2.2 mailbox full", Concern.FULL),
    (steps.DOT, "552 5.3.4 too big for this system", Concern.SIZE),
    (steps.DOT, "552 too large", Concern.SIZE),
]
# Those that put off, three times in a row.
LATER = [
    (steps.MAIL, "450 4.7.1 too many mails from you", Concern.SERVER),
    (steps.MAIL, "451 later", Concern.SERVER),
    (steps.MAIL, "451 4.1.8 sender domain not found now", Concern.SENDER),
    (steps.RCPT, "450 come back later", Concern.UNKNOWN),
    (steps.RCPT, "452 4.2.2 mailbox full", Concern.FULL),
    (steps.DATA, "451 later", Concern.UNKNOWN),
    (steps.DOT, "452 4.2.2 mailbox full", Concern.FULL),
    (steps.DOT, "451 disk full", Concern.UNKNOWN),
]
WORDS = {
    Concern.SENDER: "that is about your own address, ines@basalt-tor.example",
    Concern.ADDRESS: "put the address right, then",
    Concern.FULL: "the address is right, its mailbox is full",
    Concern.SIZE: "letters --no-pdf makes it small",
    Concern.MAIL: "the address is right, the server does not take what the mail holds",
    Concern.PERMISSION: "the server does not let you write to this address",
    Concern.SERVER: "the server takes nothing from you now",
    Concern.UNKNOWN: "; its words say why",
}


@pytest.mark.parametrize(("step", "said", "concern"), SCRIPTS)
def test_a_refusal_is_told_by_what_it_is_about(
    step: str,
    said: str,
    concern: Concern,
    send: Send,  # noqa: F811
    season: SeasonFolder,
    office: PostOffice,
) -> None:
    for call in CALLS:
        season.letter(call, slot(call))
    office.faults = [(step, said)]
    code, out, err = send("--yes")
    assert code == 2
    assert f"QF4LUM    refused for {THEM} ({said}); " in out
    assert WORDS[concern] in out
    assert [words for one, words in WORDS.items() if words in out] == [WORDS[concern]]
    # What concerns us concerns every mail: the first is the last.
    stops = concern in (Concern.SENDER, Concern.SERVER)
    assert len(office.taken) == (0 if stops else 2)
    assert events(season) == ["sending", "refused"] + ([] if stops else ["sending", "sent"] * 2)
    assert err == ("3 mails are still to be sent: mutual-moon send --yes\n" if stops else "")
    # No copy stays of what nobody took.
    assert len(list((season.folder / "record" / "sent").iterdir())) == len(office.taken)


@pytest.mark.parametrize(("step", "said", "concern"), LATER)
def test_what_is_put_off_for_good_is_told_by_what_it_is_about(
    step: str, said: str, concern: Concern, season: SeasonFolder, office: PostOffice
) -> None:
    for call in CALLS:
        season.letter(call, slot(call))
    office.faults = [(step, said)] * 3
    made, slept = post(season, office)
    sent = list(made.send([parcel(season, call) for call in CALLS]))
    assert (sent[0].event, sent[0].words, sent[0].concern) == ("not-sent", said, concern)
    assert slept == [5.0, 15.0]
    assert len(sent) == (1 if concern in (Concern.SENDER, Concern.SERVER) else 3)


def test_a_login_that_is_wanted_after_all_stops_the_run(season: SeasonFolder, office: PostOffice) -> None:
    for call in CALLS:
        season.letter(call, slot(call))
    made, _ = post(season, office)
    made.settings = office.settings(user="", password="")
    (only,) = made.send([parcel(season, call) for call in CALLS])
    assert (only.event, only.concern) == ("not-sent", Concern.ACCESS)
    assert events(season) == ["sending", "not-sent"]


def test_a_code_inside_the_words_is_no_code_of_the_server() -> None:
    assert concern_of("RCPT", 550, "said 5.2.2 elsewhere", ME, THEM) is Concern.ADDRESS
    assert concern_of("RCPT", 550, "5.2.2 full", ME, THEM) is Concern.FULL
    # Both addresses are named: it is not ours alone.
    assert concern_of("RCPT", 550, f"<{ME}> may not write to <{THEM}>", ME, THEM) is Concern.ADDRESS


# --- the password ----------------------------------------------------------------------------------------------------


def both(user: str = USER, password: str = PASSWORD) -> str:
    return base64.b64encode(f"\0{user}\0{password}".encode()).decode()


ECHOES = {
    "plain": PASSWORD,
    "inside words": f"I heard {PASSWORD}, twice",
    "without its blank": PASSWORD.replace(" ", ""),
    "in capitals": PASSWORD.upper(),
    "base64": base64.b64encode(PASSWORD.encode()).decode(),
    "AUTH PLAIN": f"AUTH PLAIN {both()}",
    "AUTH PLAIN, its end": both()[-12:],
    "AUTH PLAIN, cut off": both()[:-4],
    "a piece": PASSWORD[:8],
    "base64 of words around it": base64.b64encode(f"you said {PASSWORD} to me".encode()).decode(),
    "shifted base64": base64.b64encode(f"x{PASSWORD}".encode()).decode(),
    "percent signs": "f%C3%BCnf%20K%C3%A4fer",
    "escapes": "f\\xfcnf K\\xe4fer",
    "hexadecimal": PASSWORD.encode().hex(),
    "far behind": "x" * 185 + base64.b64encode(PASSWORD.encode()).decode(),
}


@pytest.mark.parametrize("said", ECHOES.values(), ids=ECHOES)
def test_what_holds_the_password_is_found(said: str) -> None:
    settings = MailSettings("mail.post.example", 587, "starttls", USER, PASSWORD)
    assert holds_secret(said, settings)
    assert not holds_secret(said, MailSettings("mail.post.example", 587, "starttls"))


@pytest.mark.parametrize(
    "said", ["5.1.1 no such user", "2.1.5 accepted, queued as 4fXk2T0mZzQ", f"<{USER}>: sender rejected", ""]
)
def test_other_words_stay(said: str) -> None:
    assert not holds_secret(said, MailSettings("mail.post.example", 587, "starttls", USER, PASSWORD))


@pytest.mark.parametrize(
    "step", [steps.BANNER, steps.EHLO, steps.STARTTLS, steps.AUTH, steps.MAIL, steps.RCPT, steps.DATA, steps.DOT]
)
@pytest.mark.parametrize("echo", ["AUTH PLAIN", "far behind", "percent signs"])
def test_no_step_prints_or_stores_the_password(
    step: str,
    echo: str,
    send: Send,  # noqa: F811
    season: SeasonFolder,
    office: PostOffice,
) -> None:
    """A hostile server knows it from an earlier login, so that even its greeting may hold it."""
    season.letter("QF4LUM", slot("QF4LUM"))
    office.faults = [(step, f"554 {ECHOES[echo]}")]
    code, out, err = send("--yes")
    assert code == 2
    kept = season.ledger.read_text(encoding="utf-8") if season.ledger.exists() else ""
    for secret in (ECHOES[echo][-12:], PASSWORD, both()[-12:], base64.b64encode(PASSWORD.encode()).decode()[:6]):
        assert secret not in out + err + kept
    assert "554" in out + err


def test_a_reply_that_is_not_understood_is_cleaned_too(office: PostOffice) -> None:
    session = Session(office.settings())
    session.quit()
    office.faults = [(steps.AUTH, f"554-one\r\n554 {both()}")]
    with pytest.raises(NoSession) as caught:
        Session(office.settings())
    assert both() not in str(caught.value)
