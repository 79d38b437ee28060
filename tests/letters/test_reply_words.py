"""Answers in words: the first lines that quote nothing, in every way in which mail programs quote; and what they say.

`>`, space-stuffing and the signature's separator: RFC 3676, sections 4.3 to 4.5; HTML quotations: the element
blockquote of the HTML standard. Lines above a quotation and blocks of header lines: common practice, no source. The
words of the languages are from memory.
"""

from __future__ import annotations

import datetime as dt
import re
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from pipeline.letters.reply_mail import read_mail
from pipeline.letters.reply_text import LONGEST_LINE, MOST_SHOWN, cleaned, own_lines, text_of_html
from pipeline.letters.reply_times import OpenSlot, by_clocks
from pipeline.letters.reply_vocabulary import EXPRESSIONS
from pipeline.letters.reply_words import read_words
from tests.effort import counted
from tests.letters.season_folder import SeasonFolder, address
from tests.letters.test_replies import AGENDA, mail, replies, reply, season, states
from tests.letters.test_reply_trust import Replies

__all__ = ["replies", "season"]
INES = "Ines <i@x.example>"
ASKED = "Dear friend,\nslot A: yes? slot B: no?\n"

# --- what is one's own -----------------------------------------------------------------------------------------------

ANSWER = "A yes, B no\n"
QUOTING = {
    "above a quotation": f"{ANSWER}\nOn Wed, 10 Feb 2027 at 09:15, {INES} wrote:\n> A no?\n>> B yes\n",
    "above, the line wrapped": f"{ANSWER}\nOn Wed, 10 Feb 2027 at 09:15, Ines Calder\n<i@x.example> wrote:\n\n> A no\n",
    "below a quotation": f"Am 10.02.2027 um 09:15 schrieb Ines:\n> A no?\n> B yes?\n\n{ANSWER}",
    "between quotations": "> Slot A?\n\nA yes,\n\n> Slot B?\n\nB no\n",
    "quoted without a blank": f">A no\n>B yes\n{ANSWER}",
    "a rule above the letter": f"{ANSWER}\n-----Original Message-----\nFrom: Ines\n{ASKED}",
    "a line of underscores": f"{ANSWER}\n________________________________\nVon: {INES}\n{ASKED}",
    "header lines above": f"{ANSWER}\nVon: {INES}\nGesendet: 10. Februar 2027\nAn: Lumen\nBetreff: x\n\n{ASKED}",
    "bold header lines": f"{ANSWER}\n*De:* {INES}\n*Envoyé:* mercredi\n*À:* Lumen\n*Objet:* x\n\n{ASKED}",
    "full-width header lines": f"{ANSWER}\n差出人： {INES}\n送信日時： 2027年\n宛先： Lumen\n\n{ASKED}",
    "a letter below that nothing marks": f"{ANSWER}\nLe mer. 10 févr. 2027, {INES} a écrit :\n\n{ASKED}",
    "a signature": f"{ANSWER}-- \nLumen\n{ASKED}",
    "a flowed signature without its blank": f"{ANSWER}--\n{ASKED}",
}


@pytest.mark.parametrize("name", QUOTING)
def test_only_ones_own_lines_are_read(name: str) -> None:
    for text in (QUOTING[name], QUOTING[name].replace("\n", "\r\n")):
        assert " ".join(own_lines(text)) == "A yes, B no"


def test_lines_that_look_like_headers_and_are_an_answer_stay() -> None:
    assert own_lines("A: yes\nB: no\nC: perhaps\n") == ("A: yes", "B: no", "C: perhaps")
    assert own_lines("My answers at 08:00:\n\nA yes\n") == ("My answers at 08:00:", "A yes")


HTML = {
    "a quotation": "<p>A yes,<br>B no</p><p>On 10 Feb 2027 Ines &lt;i@x.example&gt; wrote:</p>"
    "<blockquote>A no<blockquote>B</blockquote></blockquote>",
    "a rule": "<div>A yes, B no</div><hr><div>A no, B yes</div>",
    "hidden parts": "<head><title>A no</title><style>A no</style></head><script>A no</script><p>A yes, B&nbsp;no</p>",
    "one line": "A yes, B no",
    "broken": "<p>A yes, B no<blockquote>A no",
}


@pytest.mark.parametrize("name", HTML)
def test_html_alone_is_read_as_well(name: str) -> None:
    assert " ".join(own_lines(text_of_html(HTML[name]))) == "A yes, B no"
    raw = f"From: a@b.example\nContent-Type: text/html; charset=utf-8\n\n{HTML[name]}".encode()
    assert " ".join(read_mail(raw, "x.eml").lines) == "A yes, B no"


def test_plain_text_comes_before_html_and_a_file_is_nobodys_words() -> None:
    parts = [
        'Content-Type: text/plain\nContent-Disposition: attachment; filename="a.txt"\n\nA no\n',
        "Content-Type: text/html\n\n<p>B no</p>\n",
        "Content-Type: text/plain; charset=utf-8\nContent-Transfer-Encoding: quoted-printable\n\nA s=C3=AD\n",
    ]
    head = "From: a@b.example\nMIME-Version: 1.0\nContent-Type: multipart/mixed; boundary=b\n\n"
    raw = head + "".join(f"--b\n{part}" for part in parts) + "--b--\n"
    assert read_mail(raw.encode(), "x.eml").lines == ("A sí",)


# A zero-width space, a soft hyphen, a word joiner, joiners, directions turned over and back, controls.
HIDDEN = "\u200b\u00ad\u2060\u200d\u200c\u202e\u202c\u2066\u2069\x07\x1b\ufeff"


@pytest.mark.parametrize("sign", HIDDEN)
def test_nothing_hidden_is_shown_or_read(sign: str, replies: Replies, season: SeasonFolder) -> None:
    text = f"A y{sign}es,{sign} B n{sign}o"
    seen = cleaned(text)
    assert seen in ("A yes, B no", "A y es, B n o")
    raw = f"From: {address('QF4LUM')}\nContent-Type: text/plain; charset=utf-8\n\n{text}\n".encode()
    _, out, _ = replies(x=raw)
    assert f"    | {seen}\n" in out
    assert sign not in out
    assert season.agenda.read_text("utf-8") == AGENDA


def test_long_texts_are_cut_and_quickly_read() -> None:
    assert len(own_lines("x\n" * 100_000)) == MOST_SHOWN
    assert own_lines("> q\n" * 100_000 + "A yes\n") == ()
    assert len(cleaned("x" * 10_000)) == LONGEST_LINE
    plain = (
        "\n" * 99_000,
        "a:" * 50_000,
        "-" * 100_000,
        "On 2027 @ :\n" * 9_000,
        "A yes no " * 12_000,
        "08:00 " * 15_000,
    )
    texts = (*plain, "<p>" * 30_000, "<blockquote>" * 9_000, "<!--" * 20_000, "&#x41;" * 20_000)
    for text in texts:
        with counted() as effort:
            read_words(own_lines(text), SLOTS)
            read_words(own_lines(text_of_html(text)), SLOTS)
        assert effort.processor_s < 2.0, text[:20]


# --- what it says ----------------------------------------------------------------------------------------------------

HOME, PARTNER = ZoneInfo("America/Montevideo"), ZoneInfo("Europe/Helsinki")
FIRST, SECOND = (dt.datetime(2027, 3, day, hour, 15, tzinfo=dt.UTC) for day, hour in ((13, 1), (14, 6)))


def open_slot(label: str, start: dt.datetime) -> OpenSlot:
    edges = (by_clocks(moment, (HOME, PARTNER, None)) for moment in (start, start + dt.timedelta(hours=1)))
    return OpenSlot(label, *edges)


# A begins at 03:15 in Finland (UTC+2) and 22:15 in Uruguay (UTC-3), B at 08:15 and 03:15: one time of day is of both.
SLOTS = (open_slot("A", FIRST), open_slot("B", SECOND))
SAID = {
    # English
    "A yes, B no": "A=yes B=no", "A: yes\nB: no": "A=yes B=no", "a=yes b=perhaps": "A=yes B=perhaps",
    "Yes to A, no to B": "A=yes B=no", "Not A but B": "A=no B=yes", "Yes, A is fine, B not": "A=yes B=no",
    "A does not work": "A=no", "neither A nor B": "A=no B=no", "B please": "B=yes", "B": "B=yes",
    "Hello Ines,\n\nyes, both are fine.\n\nBest wishes\nLumen": "A=yes B=yes", "No problem!": "A=yes B=yes",
    "Not sure yet about A. B works for me.": "A=perhaps B=yes", "I can't do A. B works for me.": "A=no B=yes",
    # German
    "A ja, B nein": "A=yes B=no", "Ja zu A, nein zu B": "A=yes B=no", "A geht leider nicht, B passt": "A=no B=yes",
    "Weder A noch B": "A=no B=no", "Kein Problem": "A=yes B=yes", "A vielleicht, B ja": "A=perhaps B=yes",
    # French
    "Oui pour A, non pour B": "A=yes B=no", "A d’accord, B peut-être": "A=yes B=perhaps",
    "A ne me convient pas": "A=no", "Pas de problème": "A=yes B=yes",
    # Spanish
    "Sí a la A, no a la B": "A=yes B=no", "Si, A": "A=yes", "A no puedo, B quizás": "A=no B=perhaps",
    "No hay problema": "A=yes B=yes",
    # Portuguese
    "A sim, B não": "A=yes B=no", "Talvez": "A=perhaps B=perhaps", "A não posso": "A=no",
    # Italian
    "A sì, B no": "A=yes B=no", "A va bene, B forse": "A=yes B=perhaps", "A non posso": "A=no",
    # Japanese
    "Aは大丈夫です、Bは無理です。": "A=yes B=no", "Ａ：はい\nＢ：いいえ": "A=yes B=no", "Bでお願いします": "B=yes",
    "A は可能、B は不可能": "A=yes B=no", "たぶんA": "A=perhaps",
    # Times
    "Friday 22:15 UTC-3 yes": "A=yes", "08:15 passt": "B=yes", "01:15 to 02:15 UTC is fine": "A=yes",
    "A 03:15 yes, B 08:15 no": "A=yes B=no", "8:15 am ok": "B=yes", "06.15 UTC, yes": "B=yes", "10:15 pm yes": "A=yes",
    "Oui, 22h15": "A=yes", "8時15分でお願いします": "B=yes", "Sunday 08:15": "B=yes",
    "Sonntag, 14. März, 8:15 Uhr bitte": "B=yes", "3月14日 8時15分でお願いします": "B=yes",
    "Saturday please": "A=yes", "13 mars à 03:15": "A=yes", "01:15 UTC yes": "A=yes",
    # A letter of no slot, an article, a conjunction, an "if", a question, both at once: nothing plain.
    "C yes": "", "A nice evening to you": "", "Si puedo, A": "", "Is A ok?": "", "yes. no.": "",
    "Yes for A, B I cannot do": "A=yes B=no", "A yes. A no.": "", "Hello Ines": "", "y e o a i": "", "yes, no": "",
}  # fmt: skip
OTHER_TIMES = {
    "10:30 UTC yes": "10:30", "A at 08:15 yes": "08:15", "Saturday 08:00?? No, 09:00.": "09:00",
    "03:15 is fine": "03:15",
    "Saturday 08:15": "Saturday 08:15", "15 March, 03:15 is fine": "15 March, 03:15", "Monday is fine": "Monday",
    "9 Uhr wäre besser": "09:00", "21時なら大丈夫": "21:00",
}  # fmt: skip


@pytest.mark.parametrize("text", SAID)
def test_what_is_plain_is_read(text: str) -> None:
    found = read_words(own_lines(text), SLOTS)
    assert " ".join(f"{label}={word}" for label, word in found.words) == SAID[text]
    assert found.other_time == ""


@pytest.mark.parametrize("text", OTHER_TIMES)
def test_a_time_that_is_not_plainly_one_slots_stops_the_reading(text: str) -> None:
    found = read_words(own_lines(text), SLOTS)
    assert (found.words, found.other_time) == ((), OTHER_TIMES[text])


def test_every_expression_is_small_and_read_as_what_it_is() -> None:
    for word, latin, japanese in EXPRESSIONS:
        assert latin == latin.lower()
        for plain in re.split(r"\|(?![^()]*\))", f"{latin}|{japanese}"):
            if plain.replace(" ", "").isalpha() and plain != "nor":
                assert read_words([f"A {plain}"], SLOTS).words == (("A", word),), plain


@given(st.text(max_size=300))
@hypothesis_settings(max_examples=150)
def test_any_text_is_read_without_failing(text: str) -> None:
    lines = own_lines(text)
    found = read_words(lines, SLOTS)
    assert {label for label, _ in found.words} <= {"A", "B"}
    assert {word for _, word in found.words} <= {"yes", "no", "perhaps"}
    assert not (found.words and found.other_time)
    own_lines(text_of_html(text))


# --- what is offered -------------------------------------------------------------------------------------------------


def test_the_line_is_offered_and_never_applied(replies: Replies, season: SeasonFolder) -> None:
    head = f"From: {address('QF4LUM')}\nSubject: Re\nContent-Type: text/plain; charset=utf-8\n\n"
    _, out, _ = replies(
        a=head + "A ja, B leider nicht\n\nAm 10.02.2027 schrieb Ines:\n> A no\n",
        b=head + "Could we make it 09:40 instead?\nYes at 09:40.\n",
        c=head + "Thank you for the letter.\n",
    )
    line = "mutual-moon answer QF4LUM A=yes@2027-03-13T01:15Z B=no@2027-03-15T01:15Z\n"
    assert f"If that is what it says: {line}" in out
    every = "".join(
        f"      mutual-moon answer QF4LUM {label}={word}@2027-03-{day}T01:15Z\n"
        for label, day in (("A", 13), ("B", 15))
        for word in ("yes", "no")
    )
    assert f"It names 09:40, which is not plainly a slot's time; ask, then type one of these:\n{every}" in out
    assert f"Read it yourself, then type what it says (perhaps is an answer too):\n{every}" in out
    assert "    | Could we make it 09:40 instead?\n    | Yes at 09:40.\n" in out
    assert season.agenda.read_text("utf-8") == AGENDA


# Beside a calendar's answer: what partners add, and what calendars write there by themselves (from memory).
HARMLESS = [
    ("ACCEPTED", "Aino Lumen has accepted this invitation."),
    ("ACCEPTED", "Great, looking forward to it!"),
    ("ACCEPTED", "Accepted: Moon contact\nWhen: Saturday 13 March 2027 2:15 am - 3:15 am (CET)"),
    ("ACCEPTED", "Zugesagt. Viele Grüße\nhttps://calendar.example/event?id=12:45"),
    ("ACCEPTED", "はい、よろしくお願いします。"),
    ("DECLINED", "Sorry, no."),
    ("DECLINED", "Leider nein. Viele Grüße"),
    ("TENTATIVE", "Perhaps, if the weather holds"),
    ("ACCEPTED", "Saturday Mar 13, 2027 ⋅ 2:15 – 3:15am (UTC+01:00)\nGoing? Yes - Maybe - No"),
    ("ACCEPTED", "Forwarding this invitation could allow any recipient to modify your response."),
    ("ACCEPTED", "Sie erhalten diese Benachrichtigung, weil Sie nicht abgemeldet sind."),
    ("ACCEPTED", "If you are not the intended recipient, please delete this message."),
    ("ACCEPTED", "I can't wait."),
    ("ACCEPTED", "Why not!"),
    ("ACCEPTED", "Hope to see you in May."),
    ("ACCEPTED", "If you need anything, call me."),
    ("DECLINED", "Sorry, that does not work for me."),
    ("DECLINED", "I'm busy."),
    ("DECLINED", "Ich bin verreist."),
    ("TENTATIVE", "I can't say yet."),
    ("DECLINED", "I will come back to you."),
    ("DECLINED", "I'm in Norway that week."),
    ("DECLINED", "Thanks for asking, but my antenna is down."),
    ("DECLINED", "Ich komme da nicht."),
    ("DECLINED", "Estarei fora."),
]
CHANGING = [
    ("ACCEPTED", "Accepted, but could we start 30 minutes later?"),
    ("ACCEPTED", "Yes, if my amplifier is back by then."),
    ("ACCEPTED", "Let us rather begin at 03:00."),
    ("ACCEPTED", "Only on 14 March, please."),
    ("ACCEPTED", "No, that does not work."),
    ("ACCEPTED", "Ja, aber lieber B."),
    ("ACCEPTED", "Oui, mais plutôt à 3 h 30."),
    ("ACCEPTED", "¿Podemos empezar más tarde?"),
    ("ACCEPTED", "もう少し遅く始められますか?"),
    ("DECLINED", "I am away from 18 to 21 March."),
    ("DECLINED", "Not that hour, but B yes please."),
    ("DECLINED", "Não. Pode ser às 23h?"),
    ("TENTATIVE", "Perhaps. Would 03:00 do?"),
    ("ACCEPTED", "The second time suits me better."),
    ("ACCEPTED", "Weather permitting."),
    ("ACCEPTED", "Nur bei trockenem Wetter."),
    ("ACCEPTED", "Unfortunately I have to work that evening."),
    ("ACCEPTED", "Bitte eine Stunde später."),
    ("ACCEPTED", "I take the invitation, but one hour later please."),
    ("ACCEPTED", "Please move the calendar entry to 03:00."),
    ("ACCEPTED", "Your invitation is for a night when I am away."),
    ("ACCEPTED", "See my e-mail, the second slot is better."),
    ("ACCEPTED", "We cannot answer e-mail or calls that week."),
    ("ACCEPTED", "Declined by the calendar because of another event."),
    ("ACCEPTED", "Do you hear me well there?"),
    ("ACCEPTED", "B suits me"),
    ("ACCEPTED", "I take B."),
    ("ACCEPTED", "Ja, aber der Motor klemmt."),
    ("ACCEPTED", "I would, but my rotator is stuck."),
    ("ACCEPTED", "Unfortunately the amplifier is dead."),
    ("ACCEPTED", "Leider ist der Motor kaputt."),
    ("ACCEPTED", "The other invitation is better."),
    ("DECLINED", "Leider nein, aber ja gern an einem anderen Tag."),
    ("DECLINED", "Wrong button, I'll come!"),
    ("DECLINED", "Falscher Knopf: ich bin dabei."),
    ("DECLINED", "We will be there."),
    ("DECLINED", "Not so late, but otherwise yes."),
    ("DECLINED", "Erreur de ma part."),
    ("TENTATIVE", "Pressed by mistake."),
    ("ACCEPTED", "Botão errado, desculpe."),
]


@pytest.mark.parametrize(("answer", "words"), HARMLESS)
def test_words_beside_a_calendar_are_shown(replies: Replies, season: SeasonFolder, answer: str, words: str) -> None:
    out = replies(a=mail(reply(answer=answer), words=words))[1]
    assert all(f"    | {line}\n" in out for line in words.split("\n"))
    assert "slot noted in" in out
    assert len(states(season)) == 1


@pytest.mark.parametrize(("answer", "words"), CHANGING)
def test_words_that_may_change_the_answer_wait(replies: Replies, season: SeasonFolder, answer: str, words: str) -> None:
    """Shown until the operator has typed what they say, or has put the mail away."""
    out = replies(a=mail(reply(answer=answer), words=words))[1]
    assert "with words beside it that may change that; nothing was changed." in out
    assert f"    | {words}\n" in out
    assert "1 mail waits for you" in out
    assert states(season) == {}
    word = {"ACCEPTED": "yes", "DECLINED": "no", "TENTATIVE": "perhaps"}[answer]
    assert f"mutual-moon answer QF4LUM A={word}@2027-03-13T01:15Z\n" in out
    assert f"| {words}\n" in replies()[1]


def test_a_comment_in_the_calendar_counts_as_words(replies: Replies, season: SeasonFolder) -> None:
    out = replies(a=mail(reply(more="COMMENT:but could we start 30 minutes later?")))[1]
    assert "nothing was changed" in out
    assert states(season) == {}


def test_of_words_and_a_newer_answer_the_newer_counts(replies: Replies, season: SeasonFolder) -> None:
    """An older yes is not taken because the newer answer waits for its words."""
    old = mail(reply(DTSTAMP="DTSTAMP:20270210T070000Z"))
    new = mail(reply(answer="DECLINED", DTSTAMP="DTSTAMP:20270211T070000Z"), words="No, but perhaps on 20 March?")
    out = replies(a=old, b=new)[1]
    assert "a newer answer came after it" in out
    assert states(season) == {}


def test_slots_that_are_over_are_not_offered(replies: Replies, season: SeasonFolder) -> None:
    line = "  - {partner: QF4LUM, label: A, start: 2027-03-13T01:15Z, end: 2027-03-13T02:15Z, state: confirmed, outcome: made}\n"  # fmt: skip # noqa: E501
    season.agenda.write_text(AGENDA + line, encoding="utf-8")
    _, out, _ = replies(a=f"From: {address('QF4LUM')}\n\nYes\n")
    assert "mutual-moon answer QF4LUM B=yes@2027-03-15T01:15Z\n" in out
