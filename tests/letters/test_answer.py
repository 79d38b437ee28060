"""`answer`: what partners say in a chat, into the record; which slot a letter means; what is told of a wrong word."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pipeline.cli import run
from pipeline.commands.answer import too_early
from pipeline.record.inputs import read_inputs
from pipeline.record.ledger_writing import LedgerWriter
from pipeline.record.writing import Changed, outcome_of
from pipeline.reports.plan_on_disk import PlanOutdated, require_plan
from tests.letters.season_folder import PERIOD, SeasonFolder, address, lay_out, slot

Answer = Callable[..., tuple[int, str, str]]
AGENDA_CSV = """\
slot,partner,operator,label,slot_start_utc,slot_end_utc,state
1,QF4LUM,QM7TOR,A,2027-03-13T01:15:00.000000Z,2027-03-13T02:15:00.000000Z,proposed
2,QF4LUM,QM7TOR,B,2027-03-14T01:15:00.000000Z,2027-03-14T02:15:00.000000Z,proposed
3,QJ2KAW,QM7TOR,A,2027-03-15T01:15:00.000000Z,2027-03-15T02:15:00.000000Z,proposed
4,QP1LUM/P,QM7TOR,A,2027-03-16T01:15:00.000000Z,2027-03-16T02:15:00.000000Z,proposed
"""
# 01:15 UTC by the clocks of both ends: Uruguay UTC-3, Germany UTC+1 in winter.
CLOCKS = "    QM7TOR 2027-03-12 22:15 to 23:15 -03:00, QF4LUM 2027-03-13 02:15 to 03:15 +01:00\n"
NEXT_DAY = "    QM7TOR 2027-03-13 22:15 to 23:15 -03:00, QF4LUM 2027-03-14 02:15 to 03:15 +01:00\n"
COMMENTED = "# ours\nslots:\n  # from the telephone\n  - {partner: QJ2KAW, label: A, start: 2027-03-15T01:15Z, state: fixed} # keep\n# end\n"  # fmt: skip # noqa: E501


@pytest.fixture
def season(tmp_path: Path) -> SeasonFolder:
    made = lay_out(tmp_path, ("QF4LUM", "QJ2KAW", "QP1LUM/P"))
    (made.out / PERIOD / "data" / "agenda.csv").write_text(AGENDA_CSV, encoding="utf-8")
    return made


@pytest.fixture
def answer(season: SeasonFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Answer:
    """Types `answer` in the season's place."""
    monkeypatch.chdir(season.root)

    def type_(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["mutual-moon", "answer", *words])
        code = run()
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return type_


def states(season: SeasonFolder) -> dict[str, str]:
    return {f"{answer.partner} {answer.label}": answer.state for answer in read_inputs(season.season).record.answers}


def sent(season: SeasonFolder, slots: list[Any], withdrawn: list[Any] | None = None, end: str = "sent") -> None:
    (season.folder / "record").mkdir(exist_ok=True)
    ledger = LedgerWriter(season.folder)
    now = dt.datetime(2027, 2, 1, tzinfo=dt.UTC)
    message_id = f"<{ledger.path.stat().st_size if ledger.path.exists() else 0}@x>"
    what = {"partner": "QF4LUM", "to": address("QF4LUM"), "subject": "s", "kind": "first", "digest": "d"}
    ledger.begin(now, message_id, what | {"period": PERIOD, "slots": slots, "withdrawn": withdrawn or []})
    ledger.end(now, message_id, end)


def test_answers_in_a_chat_take_the_times_of_the_plan(answer: Answer, season: SeasonFolder) -> None:
    code, out, err = answer("qf4lum", "a=Yes", "B=no")
    assert (code, err) == (0, "")
    assert out == (
        "QF4LUM A  2027-03-13 01:15 to 02:15 UTC: confirmed\n"
        f"{CLOCKS}"
        "QF4LUM B  2027-03-14 01:15 to 02:15 UTC: declined\n"
        f"{NEXT_DAY}"
        "noted in stations/record/agenda.yaml; next: mutual-moon plan\n"
    )
    assert states(season) == {"QF4LUM A": "confirmed", "QF4LUM B": "declined"}
    # The plan is outdated now, and a second answer comes in all the same.
    with pytest.raises(PlanOutdated, match=r"\(record/agenda.yaml\)"):
        require_plan(read_inputs(season.season), season.period, season.out)
    assert "QF4LUM B  2027-03-14 01:15 to 02:15 UTC: tentative (was declined)" in answer("QF4LUM", "B=perhaps")[1]
    already = f"QF4LUM B  2027-03-14 01:15 to 02:15 UTC ({NEXT_DAY.strip()}): the record says so already; "
    assert answer("QF4LUM", "B=perhaps") == (0, f"{already}nothing was changed\n", "")
    assert answer("qp1lum/p", "A=yes")[0] == 0


def test_answers_to_a_letter_take_the_times_of_the_letter(answer: Answer, season: SeasonFolder) -> None:
    sent(season, [slot("QF4LUM", "A", day=20), slot("QF4LUM", "C", day=21)])
    sent(season, [slot("QF4LUM", "A", day=25, sequence=1)], end="refused")
    sent(season, [], [slot("QF4LUM", "C", day=21, sequence=1)])
    _, out, _ = answer("QF4LUM", "A=yes", "B=yes")
    assert "QF4LUM A  2027-03-20 01:15 to 02:15 UTC: confirmed" in out
    assert "QF4LUM B  2027-03-14 01:15 to 02:15 UTC: confirmed" in out
    code, _, err = answer("QF4LUM", "C=yes")
    assert (code, err) == (2, "C=yes: slot C was withdrawn from QF4LUM; there is A, B.\n")
    sent(season, [slot("QF4LUM", "A", day=26, sequence=2)])
    out = answer("QF4LUM", "A=yes@2027-03-26T01:15Z")[1]
    assert "QF4LUM A  2027-03-26 01:15 to 02:15 UTC: confirmed\n    QM7TOR 2027-03-25 22:15 to 23:15 -03:00" in out
    assert "    before: 2027-03-20 01:15 to 02:15 UTC (QM7TOR 2027-03-19 22:15 to 23:15 -03:00, QF4LUM " in out
    assert states(season) == {"QF4LUM A": "confirmed", "QF4LUM B": "confirmed"}


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("QF4LUN", "A=yes"), "QF4LUN is no partner of this season; did you mean QF4LUM?"),
        (("W1\x1b[2JAW", "A=yes"), "W1?[2JAW is no partner of this season; there is QF4LUM, QJ2KAW, QP1LUM/P."),
        (("QF4LUM", "D=yes"), "D=yes: QF4LUM was offered no slot D; there is A, B."),
        (("QF4LUM", "A=yess"), "A=yess: 'yess' is no answer; did you mean yes?"),
        (
            ("QF4LUM", "A=42"),
            "A=42: '42' is no answer; yes, no or perhaps is meant, or how it went: made, failed, absent, rained.",
        ),
        (("QF4LUM", "A"), "A: no answer; write for instance A=yes, B=no, C=perhaps."),
        (("QF4LUM", "A=yes", "a=no"), "a=no: slot A is answered twice; keep one answer."),
    ],
)
def test_a_wrong_word_is_told_with_what_there_is(
    words: tuple[str, ...], sentence: str, answer: Answer, season: SeasonFolder
) -> None:
    assert answer(*words) == (2, "", f"{sentence}\n")
    assert not season.agenda.exists()


def test_one_wrong_answer_of_two_changes_nothing(answer: Answer, season: SeasonFolder) -> None:
    code, _, err = answer("QF4LUM", "A=yes", "D=yes", "B=dunno")
    assert code == 2
    assert len(err.splitlines()) == 2
    assert not season.agenda.exists()


def test_a_partner_without_a_slot_and_a_broken_plan_are_told(answer: Answer, season: SeasonFolder) -> None:
    file = season.out / PERIOD / "data" / "agenda.csv"
    file.write_text("slot,partner\n1,QF4LUM\n", encoding="utf-8")
    assert answer("QF4LUM", "A=yes") == (2, "", "out/2027-03/data/agenda.csv cannot be read; run: mutual-moon plan\n")
    file.unlink()
    sentence = (
        "there is no plan of 2027-03 in out yet, and nothing was sent to QF4LUM, so no slot can be meant; first type\n"
        "  mutual-moon plan\n"
    )
    assert answer("QF4LUM", "A=yes") == (2, "", sentence)


def test_comments_and_other_lines_stay(answer: Answer, season: SeasonFolder) -> None:
    (season.folder / "record").mkdir()
    season.agenda.write_text(COMMENTED, encoding="utf-8")
    assert answer("QF4LUM", "A=yes")[0] == 0
    assert "(was fixed)" in answer("QJ2KAW", "A=yes")[1]
    lines = season.agenda.read_text(encoding="utf-8").splitlines()
    assert [line for line in lines if line.lstrip().startswith("#")] == ["# ours", "  # from the telephone", "# end"]
    assert lines[3].endswith("} # keep")
    assert states(season) == {"QJ2KAW A": "confirmed", "QF4LUM A": "confirmed"}


@pytest.mark.parametrize("step", ["pipeline.record.writing.write_file", "os.fsync", "pathlib.Path.replace"])
def test_a_failure_while_writing_leaves_the_record_as_it_was(
    step: str, answer: Answer, season: SeasonFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    (season.folder / "record").mkdir()
    season.agenda.write_text(COMMENTED, encoding="utf-8")

    def fails(*_: Any, **__: Any) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(step, fails)
        code, out, err = answer("QF4LUM", "A=yes")
    assert (code, out) == (2, "")
    assert err == (
        "record/agenda.yaml: cannot write here (no space left on device); nothing was changed.\nNothing was written.\n"
    )
    assert season.agenda.read_text(encoding="utf-8") == COMMENTED


def test_the_plan_on_disk_is_of_these_inputs_or_a_sentence_says_what_changed(season: SeasonFolder) -> None:
    inputs, period = read_inputs(season.season), season.period
    require_plan(inputs, period, season.out)
    with pytest.raises(PlanOutdated, match=r"^there is no plan in .*elsewhere/2027-03 yet; run: plan$"):
        require_plan(inputs, period, season.root / "elsewhere")
    for call in ("qf4lum", "qj2kaw"):
        (season.folder / f"{call}.yaml").write_text(
            (season.folder / f"{call}.yaml").read_text(encoding="utf-8") + "name: Hill\n", encoding="utf-8"
        )
    with pytest.raises(PlanOutdated, match=r"was made \(qf4lum.yaml, qj2kaw.yaml\); run: plan$"):
        require_plan(read_inputs(season.season), period, season.out)
    for text in ("{", "[]", '{"inputs": 7}', "7"):
        (season.out / PERIOD / "data" / "run.json").write_text(text, encoding="utf-8")
        with pytest.raises(PlanOutdated, match=r"run: plan$"):
            require_plan(inputs, period, season.out)


def test_how_a_slot_went_is_noted_on_its_line(answer: Answer, season: SeasonFolder) -> None:
    """With the times of a line that is not there yet; the answer on one that is stays as it was."""
    answer("QF4LUM", "A=yes")
    assert answer("QF4LUM", "A=made", "B=rained")[:2] == (
        0,
        "QF4LUM A  2027-03-13 01:15 to 02:15 UTC: made\n"
        f"{CLOCKS}"
        "QF4LUM B  2027-03-14 01:15 to 02:15 UTC: rained\n"
        f"{NEXT_DAY}"
        "noted in stations/record/agenda.yaml; next: mutual-moon plan\n",
    )
    found = {lock.label: (lock.state, lock.outcome) for lock in read_inputs(season.season).record.answers}
    assert found == {"A": ("confirmed", "made"), "B": ("fixed", "rained")}
    assert ": failed (was made)" in answer("QF4LUM", "A=failed")[1]
    already = f"QF4LUM A  2027-03-13 01:15 to 02:15 UTC ({CLOCKS.strip()}): the record says so already; "
    assert answer("QF4LUM", "A=failed")[1] == f"{already}nothing was changed\n"


def test_an_outcome_ahead_of_its_slot_is_told_with_the_way_back() -> None:
    start, end = dt.datetime(2027, 3, 13, 1, 15, tzinfo=dt.UTC), dt.datetime(2027, 3, 13, 2, 15, tzinfo=dt.UTC)
    made = Changed(None, outcome_of("QF4LUM", "A", start, end, "QM7TOR", "made"))
    assert too_early([made], end, Path("stations")) == []
    (line,) = too_early([made], end - dt.timedelta(minutes=1), Path("stations"))
    assert line.startswith("note: QF4LUM A ends only at 2027-03-13T02:15Z")
    assert line.endswith("take `outcome: made` out of its line in stations/record/agenda.yaml")


def test_after_a_lost_night_the_plan_knows_the_time_that_counts(answer: Answer, season: SeasonFolder) -> None:
    """The ledger has the old one until the new one is sent."""
    sent(season, [slot("QF4LUM", "A", day=20)])
    answer("QF4LUM", "A=yes")
    answer("QF4LUM", "A=rained")
    file = season.out / PERIOD / "data" / "agenda.csv"
    file.write_text(file.read_text(encoding="utf-8").replace("2027-03-13", "2027-03-27"), encoding="utf-8")
    assert "QF4LUM A  2027-03-27 01:15 to 02:15 UTC: confirmed\n" in answer("QF4LUM", "A=yes")[1]
    assert [lock.outcome for lock in read_inputs(season.season).record.answers] == ["rained", ""]


# --- whose time is answered ------------------------------------------------------------------------------------------


def test_a_yes_that_may_be_to_an_old_time_is_asked_and_never_taken(answer: Answer, season: SeasonFolder) -> None:
    """Told one time, then another: a bare letter may mean either, and each line that is printed names its time."""
    sent(season, [slot("QF4LUM", "A", day=13)])
    sent(season, [slot("QF4LUM", "A", day=20, sequence=1)])
    for word in ("yes", "no", "perhaps"):
        code, out, err = answer("QF4LUM", f"A={word}")
        assert (code, out) == (2, "")
        assert err == (
            f"A={word}: which time? QF4LUM may know more than one for slot A; nothing was changed.\n"
            "  told or agreed before: 2027-03-13 01:15 to 02:15 UTC (QM7TOR 2027-03-12 22:15 to 23:15 -03:00, "
            "QF4LUM 2027-03-13 02:15 to 03:15 +01:00)\n"
            "  offered now: 2027-03-20 01:15 to 02:15 UTC (QM7TOR 2027-03-19 22:15 to 23:15 -03:00, "
            "QF4LUM 2027-03-20 02:15 to 03:15 +01:00)\n"
            f"  If it is to the one offered now: mutual-moon answer QF4LUM A={word}@2027-03-20T01:15Z\n"
        ) + (
            ""
            if word != "no"
            else "  If it is to the one of before: mutual-moon answer QF4LUM A=no@2027-03-13T01:15Z\n"
            "  If it is to both: mutual-moon answer QF4LUM A=no@all\n"
        )
        assert not season.agenda.exists()
    code, out, err = answer("QF4LUM", "A=yes@2027-03-13T01:15Z")
    assert (code, out) == (2, "")
    assert "slot A is offered to QF4LUM at another time; nothing was changed." in err
    assert "Ask again; if it holds for the time offered now: mutual-moon answer QF4LUM A=yes@2027-03-20T01:15Z" in err
    assert not season.agenda.exists()
    assert "If the other time is to stand: write into stations/record/agenda.yaml, under slots: - {partner: " in err
    # The line for the other time is one that the record takes.
    line = err.partition("under slots: ")[2].splitlines()[0]
    season.agenda.write_text(f"slots:\n  {line}\n", encoding="utf-8")
    assert read_inputs(season.season).record.answers[0].start_utc.day == 13
    season.agenda.unlink()
    assert answer("QF4LUM", "A=yes@2027-03-20T01:15Z")[0] == 0
    # From now on the letter has one meaning.
    assert "tentative (was confirmed)" in answer("QF4LUM", "A=perhaps")[1]
    assert read_inputs(season.season).record.answers[0].start_utc.day == 20


@pytest.mark.parametrize(
    ("typed", "noted", "left"),
    [
        # A no to the old time leaves the new one open, and from now on the letter means that alone.
        ("A=no@2027-03-13T01:15Z", [("", 13)], "A  2027-03-20 01:15 to 02:15 UTC: confirmed"),
        ("A=no@2027-03-20T01:15Z", [("A", 20)], "A  2027-03-20 01:15 to 02:15 UTC: confirmed (was declined)"),
        ("A=no@all", [("", 13), ("A", 20)], "A  2027-03-20 01:15 to 02:15 UTC: confirmed (was declined)"),
    ],
)
def test_a_no_to_two_times_is_taken_for_each_and_for_both(
    typed: str, noted: list[tuple[str, int]], left: str, answer: Answer, season: SeasonFolder
) -> None:
    sent(season, [slot("QF4LUM", "A", day=13)])
    sent(season, [slot("QF4LUM", "A", day=20, sequence=1)])
    assert answer("QF4LUM", typed)[0] == 0
    found = read_inputs(season.season).record.answers
    assert sorted((one.label, one.start_utc.day) for one in found) == noted
    assert {one.state for one in found} == {"declined"}
    assert left in answer("QF4LUM", "A=yes")[1]


def test_all_is_said_of_a_no_alone(answer: Answer, season: SeasonFolder) -> None:
    sent(season, [slot("QF4LUM", "A", day=13)])
    assert "A=yes@all: an instant is meant" in answer("QF4LUM", "A=yes@all")[2]
    assert not season.agenda.exists()
    assert answer("QF4LUM", "A=no@all")[1].startswith("QF4LUM A  2027-03-13 01:15 to 02:15 UTC: declined\n")


def test_a_slot_set_by_hand_to_another_time_is_answered_at_the_time_that_is_named(
    answer: Answer, season: SeasonFolder
) -> None:
    sent(season, [slot("QF4LUM", "A", day=13)])
    line = "{partner: QF4LUM, label: A, start: 2027-03-21T03:00Z, end: 2027-03-21T04:00Z, state: fixed}"
    season.agenda.write_text(f"slots:\n  - {line}\n", encoding="utf-8")
    assert "which time?" in answer("QF4LUM", "A=yes")[2]
    assert "confirmed (was fixed)" in answer("QF4LUM", "A=yes@2027-03-21T03:00Z")[1]
    found = read_inputs(season.season).record.answers
    assert [(one.start_utc.day, one.state) for one in found] == [(21, "confirmed")]
    # What went before is asked as well; how it went needs no time.
    assert "which time?" in answer("QF4LUM", "A=no")[2]
    assert ": made" in answer("QF4LUM", "A=made")[1]


def test_a_letter_handed_over_and_a_plan_made_since_differ(answer: Answer, season: SeasonFolder) -> None:
    """Nothing is in the ledger: the letter that lies there tells what may have been handed over."""
    season.letter("QF4LUM", slot("QF4LUM", "A", day=13))
    assert answer("QF4LUM", "A=yes")[0] == 0
    season.agenda.unlink()
    season.letter("QF4LUM", slot("QF4LUM", "A", day=12))
    code, _, err = answer("QF4LUM", "A=yes")
    assert code == 2
    assert "told or agreed before: 2027-03-12 01:15" in err
    assert "answer QF4LUM A=yes@2027-03-13T01:15Z" in err


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("A=yes@", "A=yes@: an instant is meant, written as 2027-03-13T01:15Z."),
        (
            "A=yes@2027-03-13",
            "the time of day is missing, for instance 21:00; write\n  mutual-moon answer QF4LUM A=yes@2027-",
        ),
        (
            "A=yes@2027-03-13T01:15",
            "no clock is named; write\n  mutual-moon answer QF4LUM A=yes@2027-03-13T01:15Z\n    where UTC",
        ),
    ],
)
def test_a_time_that_is_none_is_told(text: str, sentence: str, answer: Answer, season: SeasonFolder) -> None:
    code, out, err = answer("QF4LUM", text)
    assert (code, out) == (2, "")
    assert sentence in err
    assert not season.agenda.exists()


def test_the_letters_of_another_month_are_other_slots(answer: Answer, season: SeasonFolder) -> None:
    """A slot agreed in February, of which nobody said how it went, makes no doubt about March's letter."""
    (season.folder / "record").mkdir()
    line = "{partner: QF4LUM, label: A, start: 2027-02-20T03:00Z, end: 2027-02-20T04:00Z, state: confirmed}"
    season.agenda.write_text(f"slots:\n  - {line}\n", encoding="utf-8")
    assert answer("QF4LUM", "A=yes")[0] == 0
    assert len(read_inputs(season.season).record.answers) == 2
