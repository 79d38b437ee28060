"""Lines as operators of many countries type them, each with the lines to type instead; and each of these parses.

What operators type: common practice, no source. The season is that of the demo, March 2027, home's clock UTC-3 all year
(IANA time-zone database).
"""

from __future__ import annotations

import random
import shlex
from collections.abc import Callable

import pytest
import typer

from pipeline.cli import app
from pipeline.commands import typed_words
from pipeline.commands.options_meant import commands_of
from pipeline.commands.slips import put_right, slip
from pipeline.reports.places import demo_folder

GROUP = typer.main.get_command(app)
COMMANDS = commands_of(GROUP)
THREE_CLOCKS = [f"propose QF4LUM 2027-03-14 09:00 --zone {zone}" for zone in ("partner", "home", "utc")]
LINES: list[tuple[str, list[str]]] = [
    ("propose QF4LUM 14.3. 9 Uhr", THREE_CLOCKS),
    ("propose QF4LUM '14.3. 09:00'", THREE_CLOCKS),
    ("propose 14.3. 9 Uhr QF4LUM", THREE_CLOCKS),
    ("propose QF4LUM --date 14.3. --time 9:00", THREE_CLOCKS),
    ("propose QF4LUM 14/3 9h --zone partner", THREE_CLOCKS[:1]),
    ("propose QF4LUM Sonntag 14. M\u00e4rz 9 Uhr --zone partner", THREE_CLOCKS[:1]),
    ("propose QF4LUM 14.3.2027 9 Uhr --zone partner", THREE_CLOCKS[:1]),
    ("propose QF4LUM 3/4 9h --zone partner", ["propose QF4LUM 2027-03-04 09:00 --zone partner"]),
    ("propose QF4LUM 14.3. 9 Uhr MEZ", ["propose QF4LUM 2027-03-14T09:00+01:00"]),
    ("propose QF4LUM 14 mars 9h votre heure", THREE_CLOCKS[1:2]),
    ("plan --what-if power_w=100", ["plan --what-if QM7TOR.power_w=100", "plan --what-if QF4LUM.power_w=100"]),
    (
        "plan --what-if dish=2,4",
        ["plan --what-if QM7TOR.dish_diameter_m=2.4", "plan --what-if QF4LUM.dish_diameter_m=2.4"],
    ),
    ("need QF4LUM --dish 3m", ["plan --what-if QF4LUM.dish_diameter_m=3", "plan --what-if QM7TOR.dish_diameter_m=3"]),
    ("need qf4lum dish=3m", ["plan --what-if QF4LUM.dish_diameter_m=3", "plan --what-if QM7TOR.dish_diameter_m=3"]),
    ("Kalender M\u00e4rz 2027", ["plan --month 2027-03"]),
    ("calc march 2027", ["plan --month 2027-03"]),
    ("plan month=2027-03", ["plan --month 2027-03"]),
    ("year --months 1 Jahr", ["year --months 12"]),
    ("night 13.3. 23:10", ["night 2027-03-13 --after 23:10Z", "night 2027-03-13 --after 02:10Z"]),
    ("explain QM7TOR QF4LUM 14.3. 21 UTC", ["explain QF4LUM 2027-03-14T21:00Z"]),
    ("check Lumme", ["check QF4LUM"]),
    ("letters --apr\u00e8s 13/03/2027", ["letters --after 2027-03-13"]),
    ("check --estaci\u00f3n QF4LUM", ["check QF4LUM"]),
    ("add QF4LUX JN18du 1m20 25W", ["add QF4LUX --locator JN18du --dish-diameter-m 1.2 --power-w 25"]),
    ("night 2027/3/13 senza QF4LUM", ["night 2027-03-13 --drop QF4LUM"]),
    ("night 13 mars kl 23.10", ["night 2027-03-13 --after 23:10Z", "night 2027-03-13 --after 02:10Z"]),
    ("propose QF4LUM 14.03 godz. 21.30 czasu UTC", ["propose QF4LUM 2027-03-14T21:30Z"]),
    ("measure 13/3/27 1820z sun 11.2dB peaked", ["measure 2027-03-13T18:20Z sun 11.2 --peaked"]),
    ("survey --az 300 --el 6.5", ["survey --heights 300=6.5"]),
    ("send --a-mano QF4LUM --way whatsapp", ["send QF4LUM --by-hand --way chat"]),
    ("replies skrzynka.mbox --tak", ["replies skrzynka.mbox --yes"]),
    ("neu ort --rufzeichen QA1AA --leistung 40W", ["new ort --call QA1AA --power-w 40"]),
    ("new QA1AA", ["new stations --call QA1AA"]),
    ("explique QF4LUM le 14 mars \u00e0 21h TU", ["explain QF4LUM 2027-03-14T21:00Z"]),
    ("explain QF4LUM 14/03/2027 ore 21,15 UTC", ["explain QF4LUM 2027-03-14T21:15Z"]),
    ("explain QF4LUM", ["explain QF4LUM 2027-03-01T21:00Z"]),
    ("napl\u00e1nuj b\u0159ezen 2027", ["plan --month 2027-03"]),
    ("bogus QF4LUM 14.3. 21 UTC", ["explain QF4LUM 2027-03-14T21:00Z"]),
    ("check qf4lum.yaml", ["check QF4LUM"]),
    ("check me", ["check QM7TOR"]),
    ("need QF4LUM and QT8NUI", ["need QF4LUM", "need QT8NUI"]),
    ("plan weekend", ['plan --what-if "season.policy.nights=[sat, sun]"']),
    ("plan 12.3.-15.3.", ["plan --from 2027-03-12"]),
    ("plan 2027/03/01-2027/03/31", ["plan --month 2027-03"]),
    ("plan --slot 45", ["plan --what-if policy.slot_minutes=45"]),
    ("plan html", ["plan --no-pdf"]),
    ("plan --what-if", ["plan --what-if QF4LUM.power_w=100"]),
    ("night 13.5.", ["night 2027-05-13 --month 2027-05"]),
    ("night 13.3. --drop QF4LUM,QT8NUI", ["night 2027-03-13 --drop QF4LUM --drop QT8NUI"]),
    (
        "add QF4LUX PM95 3m 50W JST",
        ["add QF4LUX --locator PM95 --dish-diameter-m 3 --power-w 50 --time-zone Asia/Tokyo"],
    ),
    ("measure 2027-03-13T18:20Z sun=11.2", ["measure 2027-03-13T18:20Z sun 11.2"]),
    ("measure 2027-03-13 18.20Z eko -12,5", ["measure 2027-03-13T18:20Z echo -12.5"]),
    ("letters QF4LUM", ["letters --shown QF4LUM"]),
    ("propose QF4LUM l\u00f8rdag 13. mars kl 2100 norsk tid", ["propose QF4LUM 2027-03-13T21:00+01:00"]),
    ("explain QF4LUM '3/13/27 9:15 p.m. Eastern'", ["explain QF4LUM 2027-03-14T02:15Z"]),
    ("explain qf4lum@2027-03-13T21:00Z", ["explain qf4lum 2027-03-13T21:00Z"]),
    ("plan abril 2027 sin pdf", ["plan --month 2027-04 --no-pdf"]),
    ("night 03132027", ["night 2027-03-13"]),
    (
        "measure 2027-03-13T18:20Z sun 11.2 notes clear sky",
        ['measure 2027-03-13T18:20Z sun 11.2 --remarks "clear sky"'],
    ),
    ("need QF4LUM strong", ["need QF4LUM"]),
    (
        "need QF4LUM --potencia 100w --plato 3",
        [
            "plan --what-if QF4LUM.power_w=100 --what-if QF4LUM.dish_diameter_m=3",
            "plan --what-if QM7TOR.power_w=100 --what-if QM7TOR.dish_diameter_m=3",
        ],
    ),
    ("answer QF4LUM A=yes @ 13.3. 19:00 UTC", ["answer QF4LUM A=yes@2027-03-13T19:00Z"]),
    ("answer QF4LUM dish=2,4m", ["answer QF4LUM dish_diameter_m=2.4"]),
    ("propose QF4LUM 13.3. 20:00 --timezone Europe/Helsinki", ["propose QF4LUM 2027-03-13 20:00 --zone partner"]),
    ("explain QF4LUM Sat 13 March 2027 at 9pm UTC", ["explain QF4LUM 2027-03-13T21:00Z"]),
    (
        "plan --what-if QF4LUM.power=100W,QF4LUM.dish=3m",
        ["plan --what-if QF4LUM.power_w=100 --what-if QF4LUM.dish_diameter_m=3"],
    ),
    ("survey 300 6.5 305 7,5", ["survey --heights 300=6.5,305=7.5"]),
    ("new my stations", ['new "my stations"']),
    ("send QF4LUM", ["send QF4LUM --by-hand"]),
    ("add QX1ABC --locator EM12kp --tz CST", ["add QX1ABC --locator EM12kp --tz America/Chicago"]),
    ("add QX1ABC --locator PM01 --tz CST", ["add QX1ABC --locator PM01 --tz Asia/Shanghai"]),
    ("send --by-hand QF4LUM whatsapp", ["send QF4LUM --by-hand --way chat"]),
    ("propose QF4LUM domingo 14 de marzo 9:00 --zone QF4LUM", ["propose QF4LUM 2027-03-14 09:00 --zone partner"]),
    ("propose QF4LUM 14.3. 9:00 --zone QM7TOR", ["propose QF4LUM 2027-03-14 09:00 --zone home"]),
    (
        "night 2027-03-13 --inclinometer v=0,4 h=0,2",
        ["night 2027-03-13 --inclinometer-offset vertical=0.4 --inclinometer-offset horizontal=0.2"],
    ),
    ("night 13/14 March", ["night 2027-03-13", "night 2027-03-14"]),
    ("plan --from 2027-03-15 --to 2027-03-20", ["plan --from 2027-03-15"]),
    ("plan --what-if home.power=50", ["plan --what-if QM7TOR.power_w=50"]),
    ("plan 3", ["plan --month 2027-03"]),
    ("plan Q1 2027", ["plan --month 2027-01"]),
    ("add QF4LUX,JO62qm,1.8,40", ["add QF4LUX --locator JO62qm --dish-diameter-m 1.8 --power-w 40"]),
    ("plan --season C:/my stations/season.yaml", ['plan --season "C:/my stations/season.yaml"']),
    ("send yes", ["send --yes"]),
    ("night 13 QF4LUM fehlt", ["night 2027-03-13 --drop QF4LUM"]),
    ("plan --what-if QF4LUM antenne 3m", ["plan --what-if QF4LUM.dish_diameter_m=3"]),
    ("propose QF4LUM 13 mars 20h --instead slot A", ["propose QF4LUM 13 mars 20h --instead A"]),
    ("review log.adi learn", ["review log.adi --apply"]),
    ("add QF4LUX 52.5N 13.4E 40W", ["add QF4LUX --latitude-deg 52.5 --longitude-deg 13.4 --power-w 40"]),
    ("add QF4LUX name Mira grid JO62", ["add QF4LUX --name Mira --grid JO62"]),
    ("night 2027-13-03", ["night 2027-03-13"]),
    ("measure time=2027-03-13T19:20Z what=sun 11.2", ["measure 2027-03-13T19:20Z sun 11.2"]),
    ("answer QF4LUM --A yes", ["answer QF4LUM A=yes"]),
    ("propose QF4LUM Friday 12 March 8pm CET", ["propose QF4LUM 2027-03-12T20:00+01:00"]),
    ("letters 13.3.", ["letters --after 2027-03-13"]),
]
TAKEN = [
    "plan /month 2027-03",
    "plan --month:2027-03",
    "plan \u2013month 2027-03",
    "check QF4LUM,",
    "answer QF4LUM A = ja",
    "answer QF4LUM A=ja, gern",
    "survey --heights 300=6 305=7",
    "measure 2027-03-13T18:20Z echo -12.5",
    "review a.adi b.csv --unlogged failed",
    "send --by-hand QF4LUM QT8NUI --way chat",
]
WORDS = """
QF4LUM qm7tor JN18du 14.3. 3/4 2027-03-13T20:00Z 9 Uhr 21:00 2310z UTC M\u00e4rz 2027-03 1,8m 40W foo
stations log.adi --month --dish --zone partner --what-if QF4LUM.power_w=100 power_w=100 --no-pdf --yes ja
A=yes = sun Sonne 11,2 -12.5 --heights 300=6,5 --after --drop --foo --az=300 /month -x \u2013 . --name Mira
100 31.2. 25:00 --month= --hold 0,2 MEZ a@b.c help --instead noon tomorrow --dial 3,4\u00b0 --locator
48.2,16.3 2027-03-13 year
"""
Advise = Callable[[str], tuple[str, list[str]]]


@pytest.fixture(scope="module")
def advise() -> Advise:
    """The answer to a line, and the lines that it gives to type."""

    def ask(text: str) -> tuple[str, list[str]]:
        told = slip(put_right(shlex.split(text), COMMANDS), COMMANDS)
        return told, [one.strip() for one in told.splitlines() if one.startswith("  mutual-moon ")]

    return ask


def parses(words: list[str]) -> bool:
    """Whether the parser and all that stands before it take a line."""
    words = put_right(words, COMMANDS)
    assert not slip(words, COMMANDS)
    with GROUP.commands[words[0]].make_context(words[0], words[1:]):  # type: ignore[attr-defined]
        return True


@pytest.mark.parametrize(("text", "lines"), LINES, ids=[text for text, _ in LINES])
def test_a_line_is_put_right_as_a_whole(
    text: str, lines: list[str], advise: Advise, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(demo_folder().parent)
    told, proposed = advise(text)
    assert proposed == [f"mutual-moon {one}" for one in lines], told
    for one in proposed:
        assert parses(shlex.split(one)[1:])


@pytest.mark.parametrize("text", TAKEN)
def test_what_can_mean_one_thing_is_not_stopped(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(demo_folder().parent)
    assert parses(shlex.split(text))


def test_every_command_is_known_to_the_words() -> None:
    """A new command, argument or option wants its kind and what people call it."""
    assert set(COMMANDS) == set(typed_words.COMMANDS)
    for name, command in COMMANDS.items():
        kinds = typed_words.ARGUMENTS.get(name, ())
        assert len(kinds) == command.arguments or command.arguments > 90, name
        assert all(one in typed_words.CALLED for one in command.own), name
    called = [word for words in typed_words.COMMANDS.values() for word in words.split()]
    assert [word for word in called if called.count(word) > 1] == []


def test_whatever_is_typed_has_an_answer_that_parses(advise: Advise, monkeypatch: pytest.MonkeyPatch) -> None:
    """Words in any order and number, the same ones each time."""
    monkeypatch.chdir(demo_folder().parent)
    drawn, proposed, words = random.Random(27), 0, WORDS.split()
    for _ in range(60):
        text = " ".join([drawn.choice([*COMMANDS, "kalender", "xyz"]), *drawn.choices(words, k=drawn.randint(0, 6))])
        for one in advise(text)[1]:
            proposed += 1
            assert parses(shlex.split(one)[1:]), text
    assert proposed > 20
