"""What a letter asks for comes back as that letter at that time: by mail through `replies`, and typed into `answer`.

The sentences are those of the letters themselves, in each language that has a catalogue; the replies in words besides
are made up. Offers and answers are held against the ledger written here.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast
from zoneinfo import ZoneInfo

import pytest

from pipeline.cli import run
from pipeline.inputs.languages import languages
from pipeline.letters.offered import Offered, offered_to
from pipeline.letters.said_of_offers import all_readings, proposals_of, reading_of, waiting_of
from pipeline.record.ledger import parse_ledger
from pipeline.record.ledger_writing import LedgerWriter
from pipeline.record.model import CONFIRMED, DECLINED, Answer
from pipeline.windows.span import Span
from pipeline.wording import phrases, sentences
from pipeline.wording.speech import Speech, speech_for
from tests.letters.season_folder import SeasonFolder, address, lay_out, slot
from tests.letters.test_replies import AGENDA, send

CALL = "QF4LUM"
HOME, PARTNER = ZoneInfo("America/Montevideo"), ZoneInfo("Europe/Berlin")
ZONES = {"QM7TOR": HOME, CALL: PARTNER}
MARCH = Span(dt.date(2027, 3, 1), dt.date(2027, 3, 31), HOME)
# Slot A on 13 March 01:15 UTC, or B on the 14th an hour earlier: 02:15 and 01:15 in Berlin, 22:15 and 21:15 at home.
A, B = "A=yes@2027-03-13T01:15Z", "B=yes@2027-03-14T00:15Z"
NOT_A, NOT_B = (one.replace("yes", "no") for one in (A, B))


def in_language(code: str) -> Speech:
    return speech_for(cast(Any, SimpleNamespace(language=code)))


def with_choice(label: str = "A", other: str = "B", day: int = 13) -> dict[str, Any]:
    times = {"start_utc": f"2027-03-{day + 1}T00:15:00Z", "end_utc": f"2027-03-{day + 1}T01:15:00Z"}
    return slot(CALL, label, day=day) | {"alternatives": [{"label": other, **times}]}


@pytest.fixture(scope="module")
def offers(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Offered]:
    """What a ledger with one letter says: slot A, or B instead."""
    folder = tmp_path_factory.mktemp("ledger")
    (folder / "record").mkdir()
    writer = LedgerWriter(folder)
    send(writer, CALL, [with_choice()])
    return offered_to(CALL, parse_ledger(writer.path.read_bytes()), MARCH, None)


def read(text: str, offered: dict[str, Offered], answers: tuple[Answer, ...] = ()) -> str:
    reading = reading_of(CALL, text.split("\n"), waiting_of(offered, answers), ZONES, answers)
    return " ".join(f"{one.offered.label}={one.word}@{one.offered.start_utc:%Y-%m-%dT%H:%MZ}" for one in reading.told)


@pytest.mark.parametrize("language", languages())
def test_what_a_letter_asks_for_is_read_as_that_letter(language: str, offers: dict[str, Offered]) -> None:
    say = in_language(language).say
    yes, no = say(sentences.EXAMPLE_YES, label="B"), say(sentences.EXAMPLE_NO, label="A")
    # The question of the letter asks for these very words.
    assert yes in say(sentences.OTHER_BETTER, other="B", label="A").replace("\N{NO-BREAK SPACE}", " ")
    assert read(yes, offers) == B
    assert read(say(sentences.EXAMPLE_YES, label="A"), offers) == A
    assert read(no + say(sentences.COMMA) + yes, offers) == f"{NOT_A} {B}"
    assert read(f"{no}\n{yes}.", offers) == f"{NOT_A} {B}"
    assert read(f"{yes}!", offers) == B


SAID = {
    "B": B, "A": A, "B please": B, "B bitte": B, "B suits me better": B, "B is better": B, "Lieber B": B, "Plutôt B": B,
    "Not A, but B is OK": f"{NOT_A} {B}", "A no, B yes": f"{NOT_A} {B}", "Yes to B, no to A": f"{NOT_A} {B}",
    "A works, B does not": f"{A} {NOT_B}", "A no": NOT_A, "neither A nor B": f"{NOT_A} {NOT_B}",
    "No, sorry": f"{NOT_A} {NOT_B}",
    # A time that is exactly B's, by Berlin's clock, by home's and by UTC.
    "14 March 01:15 please": B, "01:15 on Sunday": B, "Sonntag 14.3. 1:15 Uhr": B, "21:15 is fine": B, "00:15 UTC": B,
    "Sunday please": B, "dimanche, oui": B, "Saturday 02:15 to 03:15": A,
    # By home's clock A is on Friday the 12th; on other days nobody has it.
    "Friday 22:15": A, "Thursday 22:15": "", "15 March 01:15": "", "Monday is fine": "",
    # A yes to a letter with two times, both times, one of them without its letter, one against the other.
    "Yes": "", "ok": "", "Both are fine": "", "A yes, B yes": "", "Only the second one": "", "The later one, yes": "",
    "La segunda, sí": "", "B rather than A, yes": "", "Sì, meglio B di A": "", "B perhaps": "", "C yes": "",
    "A yes B": "", "Thank you for the letter": "", "Is B better?": "",
}  # fmt: skip


@pytest.mark.parametrize("text", SAID)
def test_the_other_time_is_read_as_what_it_is(text: str, offers: dict[str, Offered]) -> None:
    assert read(text, offers) == SAID[text]


def test_every_reading_is_one_that_is_taken(offers: dict[str, Offered]) -> None:
    assert all_readings(CALL, waiting_of(offers, ())) == (
        f"`answer {CALL} {A}`",
        f"`answer {CALL} {B}`",
        f"`answer {CALL} {NOT_A} {NOT_B}`",
    )


def test_two_slots_are_taken_together_too(offers: dict[str, Offered]) -> None:
    more = replace(offers["A"], label="C", start_utc=offers["A"].start_utc + dt.timedelta(days=7))
    assert all_readings(CALL, waiting_of(offers, ()) | {"C": more})[-2:] == (
        f"`answer {CALL} {A} C=yes@2027-03-20T01:15Z`",
        f"`answer {CALL} {B} C=yes@2027-03-20T01:15Z`",
    )


@pytest.mark.parametrize(
    ("text", "typed"),
    [
        # In Berlin A begins at 02:15 on Saturday the 13th, B at 01:15 on the 14th.
        ("02:15 is too early for me, could we do another hour? Say 03:30.", ["2027-03-13 03:30 --zone partner"]),
        ("B is too late. Could we do 22:00?", ["2027-03-14 22:00 --zone partner"]),
        ("Geht Montag um 21:00 Uhr?", ["2027-03-15 21:00 --zone partner"]),
        ("20 March, 19:00 UTC please", ["2027-03-20T19:00Z"]),
        ("Could we do 22:00?", ["2027-03-13 22:00 --zone partner", "2027-03-14 22:00 --zone partner"]),
        ("Is 02:15 your time or mine?", []),
    ],
)
def test_another_time_names_the_line_that_judges_it(text: str, typed: list[str], offers: dict[str, Offered]) -> None:
    waiting = waiting_of(offers, ())
    reading = reading_of(CALL, [text], waiting, ZONES, ())
    assert proposals_of(CALL, reading, waiting, ZONES) == tuple(f"`propose {CALL} {one}`" for one in typed)


def line(state: str, hour: int, day: int, label: str = "A", outcome: str = "") -> Answer:
    start = dt.datetime(2027, 3, day, hour, 15, tzinfo=dt.UTC)
    return Answer(CALL, label, start, start + dt.timedelta(hours=1), state, "QM7TOR", 1, outcome=outcome)


def test_what_is_over_waits_for_nothing_and_a_night_of_rain_only_at_its_time(offers: dict[str, Offered]) -> None:
    assert waiting_of(offers, (line(CONFIRMED, 0, 14, outcome="made"),)) == {}
    assert list(waiting_of(offers, (line(CONFIRMED, 1, 13, outcome="rained"),))) == ["B"]
    assert list(waiting_of(offers, (line(DECLINED, 1, 13),))) == ["A", "B"]


# --- typed -----------------------------------------------------------------------------------------------------------

Typed = Callable[..., tuple[int, str, str]]


@pytest.fixture
def season(tmp_path: Path) -> SeasonFolder:
    made = lay_out(tmp_path, (CALL,))
    (made.folder / "record").mkdir()
    asked = {"azimuth_from_deg": 103, "azimuth_to_deg": 112, "above_deg": 4}
    send(LedgerWriter(made.folder), CALL, [with_choice() | {"asked_sky": asked}])
    made.agenda.write_text(AGENDA.replace("QZ5KAR", CALL).replace("label: A", "label: X"), encoding="utf-8")
    return made


@pytest.fixture
def type_(season: SeasonFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Typed:
    monkeypatch.chdir(season.root)
    (season.root / "mails").mkdir()

    def typed(*words: str, mail: str = "") -> tuple[int, str, str]:
        if mail:
            head = f"From: Lumen <{address(CALL)}>\nSubject: Re\nContent-Type: text/plain; charset=utf-8\n\n"
            (season.root / "mails" / "x.eml").write_text(f"{head}{mail}\n", encoding="utf-8")
        monkeypatch.setattr(sys, "argv", ["mutual-moon", *words])
        code = run()
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return typed


def test_the_words_that_a_letter_asks_for_are_offered_as_their_own_time_and_taken(type_: Typed) -> None:
    out = type_("replies", "mails", mail="B yes\n\n> Is B better than A? Then reply: B yes.")[1]
    assert (
        "    A is offered at 2027-03-13 01:15 to 02:15 UTC (QM7TOR 2027-03-12 22:15 to 23:15 -03:00, QF4LUM 2027-03-13 "
        "02:15 to 03:15 +01:00)\n"
        "    B is offered instead of A at 2027-03-14 00:15 to 01:15 UTC (QM7TOR 2027-03-13 21:15 to 22:15 -03:00, "
        "QF4LUM 2027-03-14 01:15 to 02:15 +01:00)\n"
        f"    It chooses B; if that is what it says: mutual-moon answer QF4LUM {B}\n"
    ) in out
    assert "A=" not in out
    code, out, _ = type_("answer", CALL, B)
    assert (code, out.splitlines()[0]) == (0, "QF4LUM A  2027-03-14 00:15 to 01:15 UTC: confirmed")
    # The same mail once more says nothing new, and one for A says what the record holds.
    assert "    The record says so already\n" in type_("replies", "mails", "--all")[1]
    out = type_("replies", "mails", mail="A yes")[1]
    assert "    the record has slot A agreed at another time, 2027-03-14 00:15 to 01:15 UTC\n" in out
    # How it went is told at the hour that the record holds.
    out = type_("answer", CALL, "A=absent")[1]
    assert out.splitlines()[0] == "QF4LUM A  2027-03-14 00:15 to 01:15 UTC: absent"


def test_where_nothing_is_plain_every_reading_is_a_line(type_: Typed) -> None:
    every = "".join(f"      mutual-moon answer QF4LUM {said}\n" for said in (A, B, f"{NOT_A} {NOT_B}"))
    out = type_("replies", "mails", mail="Only the second one")[1]
    assert f"    Read it yourself, then type what it says (perhaps is an answer too):\n{every}" in out
    out = type_("replies", "mails", mail="Both are fine, A yes, B yes")[1]
    assert f"It says yes to A and B, and one of them is enough; choose, and type one of these:\n{every}" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("Not A, but B is OK", "A  2027-03-14 00:15 to 01:15 UTC: confirmed"),
        ("yes to B, no to A", "A  2027-03-14 00:15 to 01:15 UTC: confirmed"),
        ("B suits me better", "A  2027-03-14 00:15 to 01:15 UTC: confirmed"),
    ],
)
def test_answer_takes_a_sentence_by_the_same_reader(words: str, said: str, type_: Typed) -> None:
    code, out, err = type_("answer", CALL, words)
    assert (code, err) == (0, "")
    assert f"QF4LUM {said}" in out


@pytest.mark.parametrize("words", ["A yes B bogus", "A yes B", "B if the wife allows", "C yes", "better B than A yes"])
def test_a_sentence_that_is_not_plain_is_never_taken(words: str, type_: Typed, season: SeasonFolder) -> None:
    before = season.agenda.read_text("utf-8")
    assert type_("answer", CALL, words)[0] == 2
    assert season.agenda.read_text("utf-8") == before


def test_what_a_partner_holds_names_the_other_time_while_it_is_kept_free(type_: Typed) -> None:
    times = "Sat 13 Mar 2027 21:15 to 22:15 (UTC−3) here, Sun 14 Mar 2027 01:15 to 02:15 (UTC+1) there"
    assert f"     or B  {times}: kept free\n" in type_("letters", "--shown", CALL)[1]
    type_("answer", CALL, B)
    out = type_("letters", "--shown", CALL)[1]
    assert "kept free" not in out
    assert "     its answer: yes, to B: 2027-03-14 00:15 UTC\n" in out


# --- what letters ask of a station -----------------------------------------------------------------------------------


def test_hours_are_read_in_every_form_that_a_letter_asks_for(type_: Typed) -> None:
    for language in languages():
        asked = in_language(language).say(phrases.REPLY_HOURS).replace("：", ":")
        out = type_("replies", "mails", mail=asked.partition(":")[2].strip(" 。."))[1]
        assert "      mutual-moon answer QF4LUM hours=18:00-23:30\n" in out, language


def test_the_sky_and_a_figure_are_read_as_a_letter_asks_for_them(type_: Typed) -> None:
    for words, facts in (
        ("sky free", "sky=free"),
        ("A yes. Sky 7", "sky=7"),
        ("sky: 7,5°", "sky=7.5"),
        ("40 W", "power_w=40"),
        ("0,8 dB", "noise_figure_db=0.8"),
    ):
        out = type_("replies", "mails", mail=words)[1]
        assert f"      mutual-moon answer QF4LUM {facts}\n" in out, words
    assert "hours=" not in type_("replies", "mails", mail="A yes, 02:15 to 03:15")[1]
