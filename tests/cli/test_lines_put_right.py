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
from pipeline.commands.put_right import put_right
from pipeline.commands.slips import slip
from pipeline.reports.places import demo_folder

GROUP = typer.main.get_command(app)
COMMANDS = commands_of(GROUP)
THREE_CLOCKS = [f"propose QF4LUM 2027-03-14 09:00 --zone {zone}" for zone in ("partner", "home", "utc")]
MEASURED_SOL = [f"measure 2027-03-13T18:20Z {one} 14.1 --station QF4LUM" for one in ("sun", "ground")]
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
    (
        "new stations --call QP7MAR --locator IM59 mb --dish-diameter-m 1.5 --power-w 25",
        ["new stations --call QP7MAR --locator IM59mb --dish-diameter-m 1.5 --power-w 25"],
    ),
    ("letters QF4LUM --no-pdf", ["letters --no-pdf", "letters --shown QF4LUM --no-pdf"]),
    (
        "propose QF4LUM 2027-03-13 20:45 --zone Korea",
        ["propose QF4LUM 2027-03-13 20:45 --zone partner", "propose QF4LUM 2027-03-13 20:45 --zone home"],
    ),
    ("need QF4LUM and QT8NUI", ["need QF4LUM", "need QT8NUI"]),
    ("need qf4lum.yaml qt8nui.yaml", ["need QF4LUM", "need QT8NUI"]),
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
    ("letters QF4LUM", ["letters", "letters --shown QF4LUM"]),
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
    ("answer QF4LUM A=yes, QT8NUI A=perhaps", ["answer QF4LUM A=yes", "answer QT8NUI A=perhaps"]),
    ("answer Lumme:A=ja QT8NUI:B=nein", ["answer QF4LUM A=ja", "answer QT8NUI B=nein"]),
    ("answer A=yes QF4LUM A=no QT8NUI", ["answer QF4LUM A=yes", "answer QT8NUI A=no"]),
    (
        "propose QF4LUM 13.3. 20:00 oder 14.3. 21:00 MEZ",
        ["propose QF4LUM 2027-03-13T20:00+01:00", "propose QF4LUM 2027-03-14T21:00+01:00"],
    ),
    ("propose QF4LUM 13.3. from 20:00 to 21:00 CET", ["propose QF4LUM 2027-03-13T20:00+01:00"]),
    (
        "explain QF4LUM 2027-03-13T12:00Z 13:00Z",
        ["explain QF4LUM 2027-03-13T12:00Z", "explain QF4LUM 2027-03-13T13:00Z"],
    ),
    (
        "add QP3ALT IN51rp 1.8m 60W und QC8TIN IO87wi 2.4 40",
        [
            "add QP3ALT --locator IN51rp --dish-diameter-m 1.8 --power-w 60",
            "add QC8TIN --locator IO87wi --dish-diameter-m 2.4 --power-w 40",
        ],
    ),
    ("measure 2027-03-13T18:20Z sun -62.3 -76.4", ["measure 2027-03-13T18:20Z sun 14.1"]),
    ("measure sol kalt -76,4 dBFS hei\u00df -62,3 dBFS 2027-03-13 18:20Z --station QF4LUM", MEASURED_SOL),
    ("measure 2027-03-13T18:20Z moon -62.3/-63.4", ["measure 2027-03-13T18:20Z moon 1.1"]),
    ("measure 2027-03-13T18:20Z sun -3.2 10.9", ["measure 2027-03-13T18:20Z sun 14.1"]),
    (
        "measure 2027-03-13T18:20Z sun 25.3 11.2",
        ["measure 2027-03-13T18:20Z sun 14.1", "measure 2027-03-13T18:20Z sun 25.3"],
    ),
    ("measure 2027-03-13T18:20Z sun 25,7 fach", ["measure 2027-03-13T18:20Z sun 14.1"]),
    ("measure 2027-03-13T18:20Z ground y=5.2", ["measure 2027-03-13T18:20Z ground 5.2"]),
    (
        "measure 2027-03-13T18:20Z echo -12.5 -13",
        ["measure 2027-03-13T18:20Z echo -12.5", "measure 2027-03-13T18:20Z echo -13"],
    ),
    ("survey --heights 240-260=7", ["survey --heights 240=7,245=7,250=7,255=7,260=7"]),
    ("survey 350 bis 2: 6,5", ["survey --heights 350=6.5,355=6.5,0=6.5,2=6.5"]),
    ("survey --heights N=3,ESE=1.5,S=4", ["survey --heights 0=3,112.5=1.5,180=4"]),
    ("survey --heights 240=7\u00b0 '260=6\u00b030\u2032'", ["survey --heights 240=7,260=6.5"]),
    ("survey --heights 75 6 --station QF4LUM", ["survey --heights 75=6 --station QF4LUM"]),
    ("survey --station QF4LUM,QT8NUI", ["survey --station QF4LUM", "survey --station QT8NUI"]),
    ("letters --only QF4LUM --no-pdf", ["letters --shown QF4LUM --no-pdf"]),
    ("letters QF4LUM QT8NUI", ["letters --shown QF4LUM", "letters --shown QT8NUI"]),
    ("letters --for 13.3.2027", ["letters --after 2027-03-13"]),
    (
        "plan --what-if QF4LUM.power_w=30,60,100",
        [f"plan --what-if QF4LUM.power_w={one}" for one in (30, 60, 100)],
    ),
    ("plan --what-if QF4LUM.power=30 bis 100W", [f"plan --what-if QF4LUM.power_w={one}" for one in (30, 100)]),
    ("plan --what-if QF4LUM.dish=1.8-3m", [f"plan --what-if QF4LUM.dish_diameter_m={one}" for one in (1.8, 3)]),
    ("plan --what-if QF4LUM.dish_diameter_m=2,4", ["plan --what-if QF4LUM.dish_diameter_m=2.4"]),
    ("plan --hold 30%", ["plan --hold 0.3"]),
    ("plan --sin QF4LUM", ["plan --what-if season.partners.1.contacts_wanted=0"]),
    (
        "need --dish 3 QF4LUM",
        ["plan --what-if QF4LUM.dish_diameter_m=3", "plan --what-if QM7TOR.dish_diameter_m=3"],
    ),
    ("check --month 2027-03 QF4LUM", ["check QF4LUM"]),
    ("new Luna 2027 --call QA1AA", ['new "Luna 2027" --call QA1AA']),
    (
        "add QP3ALT locator: IN51rp dish: 1.8 power: 60",
        ["add QP3ALT --locator IN51rp --dish 1.8 --power 60"],
    ),
    ("add QP3ALT 1.8m/60W IN51rp", ["add QP3ALT --locator IN51rp --dish-diameter-m 1.8 --power-w 60"]),
    ("import QP3ALT IN51rp 60W", ["add QP3ALT --locator IN51rp --power-w 60"]),
    ("import https://far.example/roster.csv", ["import roster.csv"]),
    ("send --by-hand QF4LUM by whatsapp", ["send QF4LUM --by-hand --way chat"]),
    ("send --dry-run", ["send"]),
    ("send QF4LUM --yes", ["send --yes", "send --by-hand QF4LUM"]),
    ("send QF4LUM QT8NUI --again", ["send --again QF4LUM --again QT8NUI --yes"]),
    (
        "explain QF4LUM 2027-03-13 2:30pm",
        [f"explain QF4LUM 2027-03-13T{one}Z" for one in ("14:30", "17:30", "12:30")],
    ),
    (
        "measure moon=0.9 sun=14.1 2027-03-13T18:20Z",
        ["measure 2027-03-13T18:20Z moon 0.9", "measure 2027-03-13T18:20Z sun 14.1"],
    ),
    (
        "measure 2027-03-13T18:20Z sun 14.1 az +0.3 el -0.2",
        ["measure 2027-03-13T18:20Z sun 14.1 --azimuth-offset +0.3 --elevation-offset -0.2"],
    ),
    ("measure 2027-03-13T18:20Z --sun 14.1", ["measure 2027-03-13T18:20Z sun 14.1"]),
    ("night 2027-03-13 without Lumme", ["night 2027-03-13 --drop QF4LUM"]),
    ("night 13.3. 20.3.", ["night 2027-03-13", "night 2027-03-20"]),
    ("answer QF4LUM A,B=yes", ["answer QF4LUM A=yes B=yes"]),
    ("answer QF4LUM A-C=no", ["answer QF4LUM A=no B=no C=no"]),
    ("answer QF4LUM A=yes --by phone", ["answer QF4LUM A=yes"]),
    ("review log.adi --unlogged QF4LUM=failed", ["review log.adi --unlogged failed"]),
    ("measure 2027-03-13T18:20Z cold sky -76.4 sun -62.3", ["measure 2027-03-13T18:20Z sun 14.1"]),
    ("measure 2027-03-13T18:20Z sun cold 3.2 hot 17.3", ["measure 2027-03-13T18:20Z sun 14.1"]),
    ("measure 2027-03-13T18:20Z sun '3.2->17.3'", ["measure 2027-03-13T18:20Z sun 14.1"]),
    ("measure 2027-03-13T18:20Z echo Q65 -21", ["measure 2027-03-13T18:20Z echo -21 --remarks Q65"]),
    ("survey --heights S\u00fcdwest=4,nord=6", ["survey --heights 225=4,0=6"]),
    ("survey --heights 120=4 bis 6", ["survey --heights 120=6", "survey --heights 120=4"]),
    ("answer QF4LUM A yes, QT8NUI A no", ["answer QF4LUM A yes", "answer QT8NUI A no"]),
    ("answer QF4LUM, QT8NUI: A=yes", ["answer QF4LUM A=yes", "answer QT8NUI A=yes"]),
    (
        "propose QF4LUM QT8NUI 13.3. 20:00 CET or 21:00 CET",
        [f"propose {call} 2027-03-13T{one}+01:00" for call in ("QF4LUM", "QT8NUI") for one in ("20:00", "21:00")],
    ),
    ("plan --what-if QF4LUM.dish=3m,4m", [f"plan --what-if QF4LUM.dish_diameter_m={one}" for one in (3, 4)]),
    ("send --resend QF4LUM", ["send --again QF4LUM --yes"]),
    ("need QF4LUM --mode CW", ["need QF4LUM"]),
    ("night 13 mar after 2310 utc drop qf4lum", ["night 2027-03-13 --after 23:10Z --drop QF4LUM"]),
    ("prune", ["check"]),
    ("answer A,B=yes", ["answer QF4LUM A=yes B=yes"]),
    ("plan --month 2027-03 --month 2027-04", ["plan --month 2027-03", "plan --month 2027-04"]),
    ("plan --no-pdf --no-pdf --month 2027-03", ["plan --month 2027-03 --no-pdf"]),
    ("send --yes --by-hand QF4LUM", ["send QF4LUM --by-hand"]),
    ("letters 13.3. 20.3.", ["letters --after 2027-03-13", "letters --after 2027-03-20"]),
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
    "night 2027-03-13 --drop QF4LUM --drop QT8NUI",
    "plan --what-if QF4LUM.power_w=30 --what-if QT8NUI.power_w=60",
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
