"""Two commands that write, at once, each with each: the record holds what one after the other leaves, and says why not.

What one after the other leaves is taken from the commands themselves, typed in that order. Nothing waits for a clock:
the second command starts where the first has read and not yet written, or where it holds the record's lock.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import re
import shutil
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from pipeline.cli import run
from pipeline.inputs import writing
from pipeline.pairs.survey import make_survey
from pipeline.record import writing as record_writing
from pipeline.record.inputs import read_inputs
from pipeline.record.ledger_writing import LedgerWriter
from pipeline.record.writing import record_lock
from tests.letters.post_office import PostOffice, running
from tests.letters.season_folder import PERIOD, SeasonFolder, address, lay_out, slot
from tests.letters.test_replies import mail, reply
from tests.review.simulation import Offsets, as_adif, simulate

pytestmark = pytest.mark.usefixtures("plans_made_once")

# Each in two forms, which differ wherever two can differ; `add` and `import` are about the same new call.
COMMANDS = {
    "answer": ("answer QF4LUM A=yes", "answer QF4LUM A=no B=perhaps"),
    "replies": ("replies mails-1 --yes", "replies mails-2 --yes"),
    "review": ("review part-1.adi --apply --no-pdf", "review part-2.adi --apply --no-pdf"),
    "send": ("send --yes", "send --yes"),
    "measure": ("measure 2027-03-13T18:20Z sun 11.2", "measure 2027-03-13T18:40Z ground 4.9"),
    "arrived": ("send --arrived QZ5KAR", "send --arrived QZ5KAR"),
    "add": ("add QX6ICE --locator JP99hw --power-w 10", "add QX6ICE --locator JP99hw --power-w 20"),
    "import": ("import roster-1.csv", "import roster-2.csv"),
    "survey": ("survey --heights 300=6,305=7.5 --yes", "survey --heights 305=8,310=9 --yes"),
}
# These hold the record's lock while they read and write; the others write new files alone, and wait for nobody.
LOCKING = ("answer", "replies", "review", "send", "measure", "arrived", "survey")
# `survey` writes to a station's file, which the answers and the review read: it meets itself and these.
SURVEY_MEETS = ("survey", "answer", "review")


def pairs_of(firsts: Iterable[str]) -> list[tuple[str, str]]:
    """Each of the first commands with every command that it is tried with."""
    return [
        (first, second)
        for first in firsts
        for second in COMMANDS
        if "survey" not in (first, second) or {first, second} <= {*SURVEY_MEETS}
    ]


NEW_FILES = ("qb2sea.yaml", "qx6ice.yaml")
AGENDA_CSV = """\
slot,partner,operator,label,slot_start_utc,slot_end_utc,state
1,QF4LUM,QM7TOR,A,2027-03-13T01:15:00.000000Z,2027-03-13T02:15:00.000000Z,proposed
2,QF4LUM,QM7TOR,B,2027-03-14T01:15:00.000000Z,2027-03-14T02:15:00.000000Z,proposed
"""
SENT = dt.datetime(2027, 2, 1, 10, 30, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Left:
    """What two commands leave: their ends and sentences, the files of the season, the review's table, the mails."""

    codes: tuple[int, int]
    sentences: list[str]
    files: dict[str, str]
    mails: list[list[str]]


Two = Callable[[str, str], Left]


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PostOffice]:
    with running(tmp_path_factory.mktemp("office")) as office:
        yield office


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two letters to go, one of them with a slot moved since the last; one unclear; answers, logs and rosters."""
    season = lay_out(tmp_path_factory.mktemp("prepared"))
    text = season.season.read_text("utf-8").replace("step_minutes: 5", "step_minutes: 30")
    season.season.write_text(text, "utf-8")
    season.plan()
    (season.out / PERIOD / "data" / "agenda.csv").write_text(AGENDA_CSV, "utf-8")
    (season.folder / "record").mkdir()
    ledger = LedgerWriter(season.folder)
    for call, slots in (
        ("QF4LUM", [slot("QF4LUM"), slot("QF4LUM", "B", day=14)]),
        ("QZ5KAR", [slot("QZ5KAR", day=15)]),
    ):
        what = {"partner": call, "to": address(call), "subject": "s", "kind": "first", "digest": "d", "period": PERIOD}
        ledger.begin(SENT, f"<{call}@basalt-tor.example>", what | {"slots": slots, "withdrawn": []})
    ledger.end(SENT, "<QF4LUM@basalt-tor.example>", "sent")
    season.letter("QF4LUM", slot("QF4LUM", day=20, sequence=1), slot("QF4LUM", "B", day=14))
    season.letter("QJ2KAW", slot("QJ2KAW", day=16))
    inputs = read_inputs(season.season)
    truth = {"QM7TOR": Offsets(-1.0, 0.5), "QF4LUM": Offsets(2.0, 2.0), "QJ2KAW": Offsets(-2.0, -1.0)}
    attempts = simulate(inputs, make_survey(inputs, season.period, lambda _: None), truth, 3)  # type: ignore[arg-type]
    answered = (
        (("QF4LUM", "A", "ACCEPTED"), ("QJ2KAW", "A", "ACCEPTED")),
        (("QF4LUM", "B", "DECLINED"), ("QZ5KAR", "A", "ACCEPTED")),
    )
    for form in (1, 2):
        (season.root / f"part-{form}.adi").write_text(as_adif(attempts[form - 1 :: 2]), "utf-8")
        rows = f"call,position.locator,position.height_m\nQB2SEA,RE78ir,{form}\nQX6ICE,JP99hw,{form}\n"
        (season.root / f"roster-{form}.csv").write_text(rows, "utf-8")
        (season.root / f"mails-{form}").mkdir()
        for number, (call, label, answer) in enumerate(answered[form - 1]):
            (season.root / f"mails-{form}" / f"{number}.eml").write_bytes(mail(reply(call, label, answer), call))
    return season.root


@pytest.fixture
def fresh(
    prepared: Path, office: PostOffice, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Callable[[], SeasonFolder]:
    """Goes to a new copy of the season, with a post office that has taken nothing."""
    for name, value in office.environment().items():
        monkeypatch.setenv(name, value)

    def made() -> SeasonFolder:
        place = tmp_path / str(len(list(tmp_path.iterdir())))
        shutil.copytree(prepared, place)
        monkeypatch.chdir(place)
        office.taken.clear()
        return SeasonFolder(place)

    return made


def type_(command: str) -> int:
    sys.argv = ["mutual-moon", *command.split()]
    return run()


# `2027-02-01T103000Z-QF4LUM-letter-2.eml`: when, and the number where that name was taken.
MOMENT = r"\d{4}-\d\d-\d\dT\d{6}Z-|(?<=letter)-\d+(?=\.eml)"


def files_of(season: SeasonFolder) -> dict[str, str]:
    """All files of the season and the review's table, but for the instants at which something was noted."""
    found = [path for path in season.folder.rglob("*") if path.is_file() and path.name != ".lock"]
    # A copy of a mail is named by when it left; how many of a name there are counts, not the second.
    alike: dict[str, list[str]] = {}
    for path in found:
        name = re.sub(MOMENT, "", path.relative_to(season.root).as_posix())
        alike.setdefault(name, []).append(path.read_text("utf-8"))
    texts = {name: "".join(sorted(some)) for name, some in alike.items()}
    texts |= {path.name: path.read_text("utf-8") for path in season.out.glob("review.csv")}
    noted = rf'answered: [^,}}]+|"stamp": "[^"]+"|{MOMENT}|(?m:^Date: .*$)'
    return {name: re.sub(noted, "", text) for name, text in texts.items()}


@pytest.fixture
def left(office: PostOffice, capsys: pytest.CaptureFixture[str]) -> Callable[[SeasonFolder, tuple[int, int]], Left]:
    """What is left of two commands, given their ends."""

    def look(season: SeasonFolder, codes: tuple[int, int]) -> Left:
        sentences = sorted(capsys.readouterr().err.splitlines())
        assert set(codes) <= {0, 2, 4}, sentences
        assert 2 not in codes or sentences
        return Left(codes, sentences, files_of(season), [to for _, to, _ in office.taken])

    return look


@pytest.fixture(scope="module")
def known() -> dict[tuple[str, str], Left]:
    return {}


@pytest.fixture
def one_by_one(
    known: dict[tuple[str, str], Left],
    fresh: Callable[[], SeasonFolder],
    left: Callable[[SeasonFolder, tuple[int, int]], Left],
    monkeypatch: pytest.MonkeyPatch,
) -> Two:
    """What the second form of one command and then the first form of another leave."""
    monkeypatch.setattr(sys, "argv", [])
    monkeypatch.setattr(record_writing, "WAIT_S", 600.0)

    def both(one: str, other: str) -> Left:
        if (one, other) not in known:
            season = fresh()
            known[one, other] = left(season, (type_(COMMANDS[one][1]), type_(COMMANDS[other][0])))
        return known[one, other]

    return both


@pytest.mark.parametrize(("first", "second"), pairs_of(COMMANDS))
def test_a_whole_run_after_another_has_read_and_before_it_writes(
    first: str,
    second: str,
    one_by_one: Two,
    fresh: Callable[[], SeasonFolder],
    left: Callable[[SeasonFolder, tuple[int, int]], Left],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The first begins, the second runs from end to end, the first goes on: as if the second had come before it."""
    expected = one_by_one(second, first)
    season = fresh()
    codes: list[int] = []
    module, name = (record_writing, "record_lock") if first in LOCKING else (writing, "write_all")
    real = getattr(module, name)

    def in_between(*given: object) -> object:
        monkeypatch.setattr(module, name, real)
        codes.append(type_(COMMANDS[second][1]))
        return real(*given)

    monkeypatch.setattr(module, name, in_between)
    codes.append(type_(COMMANDS[first][0]))
    assert len(codes) == 2
    found = left(season, (codes[0], codes[1]))
    if first not in LOCKING and codes[1] == 2:
        # One taken name ends it, before the calls of all rows are looked at.
        assert sum(f"there is a file {name} already" in " ".join(found.sentences) for name in NEW_FILES) == 1
        found = replace(found, sentences=expected.sentences)
    assert found == expected


@pytest.mark.parametrize(("first", "second"), pairs_of(LOCKING))
def test_a_run_that_comes_while_another_holds_the_record(
    first: str,
    second: str,
    one_by_one: Two,
    fresh: Callable[[], SeasonFolder],
    left: Callable[[SeasonFolder, tuple[int, int]], Left],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The second waits for the end of the first and counts what that one wrote; new stations are not held up."""
    expected = one_by_one(first, second)
    season = fresh()
    arrived = threading.Event()
    runs: list[Future[int]] = []
    waited: list[bool] = []

    def asking(place: Path) -> contextlib.AbstractContextManager[Path]:
        arrived.set()
        return record_lock(place)

    @contextlib.contextmanager
    def holding(place: Path) -> Iterator[Path]:
        with record_lock(place) as held:
            monkeypatch.setattr(record_writing, "record_lock", asking)
            runs.append(pool.submit(type_, COMMANDS[second][0]))
            runs[0].add_done_callback(lambda _: arrived.set())
            # It asks for the lock, or has ended without it.
            arrived.wait()
            try:
                yield held
            finally:
                waited.append(not runs[0].done())

    monkeypatch.setattr(record_writing, "record_lock", holding)
    with ThreadPoolExecutor(1) as pool:
        code = type_(COMMANDS[first][1])
    assert left(season, (code, runs[0].result())) == expected
    assert waited == [second in LOCKING]


@pytest.mark.parametrize("command", LOCKING)
def test_where_the_record_stays_busy_nothing_is_half_done(
    command: str,
    fresh: Callable[[], SeasonFolder],
    office: PostOffice,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    season = fresh()
    monkeypatch.setattr(sys, "argv", [])
    monkeypatch.setattr(record_writing, "WAIT_S", 0.01)
    with record_lock(season.folder):
        before = {path: path.read_bytes() for path in season.root.rglob("*") if path.is_file()}
        assert type_(COMMANDS[command][0]) == 2
        assert {path: path.read_bytes() for path in season.root.rglob("*") if path.is_file()} == before
    sentence = "another run of this program is writing to stations/record; wait for its end and run again.\n"
    assert capsys.readouterr().err == sentence
    assert office.taken == []
