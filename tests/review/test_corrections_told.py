"""Where corrections show: the method page, the partner's page, `check`, the file that carries them."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from pipeline.explain.station_check import check_stations
from pipeline.operating.night_track import make_night_track
from pipeline.pairs.assumed import presence_of
from pipeline.pairs.corrections import correction_of, side_variances_db2
from pipeline.record.corrections_writing import corrections_text, merged, write_learnt
from pipeline.record.inputs import read_inputs
from pipeline.record.model import Correction, Measurement, Record
from pipeline.reports import tables
from pipeline.reports.method_view import method_view
from pipeline.reports.partner_view import partners_view
from pipeline.reports.plain import check_table_text
from pipeline.reports.plan_text import plan_text
from pipeline.reports.views import PAPERS
from pipeline.review.review import Review
from pipeline.review.view import _presence_words as presence_told
from pipeline.sheets.radio_sheet import radio_sheet
from pipeline.wording.corrections import correction_words
from tests.plan.months import SEASON_FILE, demo_inputs
from tests.reports.invented_plan import make
from tests.sheets.invented_agenda import NIGHT, night_plan

HOME = Correction("QM7TOR", "3cm", -0.7, 0.4, 0.5, 0.6, "31 reports in 40 attempts up to 2027-02-27")
PARTNER = Correction("QF4LUM", "3cm", 1.24, -0.96, 0.8, 0.9, "14 reports in 7 attempts up to 2027-02-27")
ELSEWHERE = Correction("QF4LUM", "6cm", 5.0, 5.0, 0.1, 0.1, "")


def test_pages_say_which_figures_rest_on_the_log() -> None:
    bare = make(partners=3)
    record = Record(corrections=(HOME, PARTNER, ELSEWHERE))
    plan = dataclasses.replace(bare, inputs=dataclasses.replace(bare.inputs, record=record))
    assert method_view(plan).learnt == (
        ("QM7TOR", f"sends −0.7 ± 0.5 dB, hears +0.4 ± 0.6 dB; learnt from {HOME.reviewed}"),
        ("QF4LUM", f"sends +1.2 ± 0.8 dB, hears −1.0 ± 0.9 dB; learnt from {PARTNER.reviewed}"),
    )
    assert "less where the log has taught" in method_view(plan).outcome
    facts = {block.call: block.facts for block in partners_view(plan, PAPERS["A4"]).blocks}
    assert "corrected from the log: sends +1.2 ± 0.8 dB, hears −1.0 ± 0.9 dB" in facts["QF4LUM"]
    assert not any("corrected" in fact for fact in facts["QJ2KAW"])
    assert method_view(bare).learnt == ()
    assert "log has taught" not in method_view(bare).outcome


@pytest.mark.parametrize(
    ("log", "readings", "words"),
    [
        (True, False, "  counted beside the files: what the log has taught (record/corrections.yaml)\n"),
        (False, True, "  counted beside the files: readings of noise and echo (record/measurements.csv)\n"),
        (True, True, "(record/corrections.yaml) and readings of noise and echo (record/measurements.csv)\n"),
        (False, False, ""),
    ],
)
def test_the_terminal_says_what_the_plan_counts(log: bool, readings: bool, words: str) -> None:
    bare = make(partners=3)
    record = Record(corrections=(HOME,) * log, measurements=(READING,) * readings)
    inputs = dataclasses.replace(bare.inputs, record=record)
    plan = dataclasses.replace(
        bare, inputs=inputs, windows=bare.windows.assign(mode="Q65"), partners=bare.partners.assign(chance=0.5)
    )
    text = plan_text(plan, [Path("out/2027-03/data/a.csv")], Path("out/2027-03"), 200)
    assert words in text
    assert ("counted beside the files" in text) == (log or readings)


READING = Measurement("QM7TOR", "3cm", dt.datetime(2027, 2, 13, 18, 0, tzinfo=dt.UTC), "sun", 10.2)


@pytest.mark.parametrize(
    ("log", "readings", "heading", "back"),
    [
        (True, False, "What the log has taught", "Taking record/corrections.yaml away"),
        (False, True, "What readings have taught", "Taking record/measurements.csv away"),
        (True, True, "What log and readings have taught", "corrections.yaml or record/measurements.csv away"),
    ],
)
def test_the_page_names_what_the_corrections_come_from(log: bool, readings: bool, heading: str, back: str) -> None:
    bare = make(partners=3)
    record = Record(corrections=(HOME,) * log, measurements=(READING,) * readings)
    told = method_view(dataclasses.replace(bare, inputs=dataclasses.replace(bare.inputs, record=record)))
    assert told.taught[0] == heading
    assert back in told.taught[1]
    assert ("where readings have taught" in told.outcome) == (readings and not log)
    assert ("where the log has or readings have taught" in told.outcome) == (readings and log)


def test_the_list_of_stations_tells_what_was_measured() -> None:
    """The figure against the file, its doubt, and what the plan takes, beside the station that was measured alone."""
    inputs = dataclasses.replace(demo_inputs(), record=Record(measurements=(READING,)))
    text = " ".join(check_table_text(check_stations(inputs, 3)).split())
    found = correction_of(inputs, "QM7TOR", "3cm")
    assert found is not None
    assert found.receive_db < -0.5
    assert text.count("measured: By 1 reading QM7TOR hears") == 1
    assert f"The plan takes it as {correction_words(found)}." in text
    assert "measured:" not in check_table_text(check_stations(demo_inputs(), 3))


def test_check_shows_what_was_learnt_on_its_band() -> None:
    inputs = dataclasses.replace(demo_inputs(), record=Record(corrections=(PARTNER, ELSEWHERE)))
    (check,) = check_stations(inputs, 3, "QF4LUM")
    section = next(one for one in check.sections if one.title == "Learnt from the log")
    assert [line.value for line in section.lines] == [1.24, -0.96]
    assert {line.source for line in section.lines} == {PARTNER}
    (plain,) = check_stations(inputs, 3, "QJ2KAW")
    assert "Learnt from the log" not in [one.title for one in plain.sections]
    # The file's own figures stay as they were.
    (bare,) = check_stations(demo_inputs(), 3, "QF4LUM")
    assert bare.figures.items() <= check.figures.items()


def test_the_file_says_what_the_next_run_reads(tmp_path: Path) -> None:
    """Written, read back and the same; words of a hand are quoted where YAML would take them for something else."""
    odd = Correction("QX9A/P", "13cm", -0.004, 12.345, 0.0, 1.0, 'by hand: "as {I} think", # so')
    for name in ("season.yaml", *(f"{call}.yaml" for call in ("qm7tor", "qf4lum", "qj2kaw"))):
        text = (SEASON_FILE.parent / name).read_text("utf-8")
        kept = [line for line in text.splitlines() if "{call:" not in line or "QF4LUM" in line or "QJ2KAW" in line]
        (tmp_path / name).write_text("\n".join(kept) + "\n", "utf-8")
    (tmp_path / "record").mkdir()
    beside, file = write_learnt(tmp_path, {"beside.csv": "x\n"}, (HOME, PARTNER, odd))
    assert beside.read_text("utf-8") == "x\n"
    assert file == tmp_path / "record" / "corrections.yaml"
    assert (tmp_path / "record" / "beside.csv").read_text("utf-8") == "x\n"
    read = read_inputs(tmp_path / "season.yaml")
    rounded = dataclasses.replace(odd, transmit_db=0.0, receive_db=12.35)
    assert read.record.corrections[:2] == (HOME, PARTNER)
    assert read.record.corrections[2].reviewed == odd.reviewed
    assert read.record.corrections[2].receive_db == pytest.approx(rounded.receive_db, abs=0.011)
    assert "-0.00" not in corrections_text((odd,))


def test_what_a_review_did_not_meet_stays() -> None:
    better = dataclasses.replace(PARTNER, transmit_db=0.1)
    other = dataclasses.replace(PARTNER, call="QJ2KAW")
    assert merged((HOME, PARTNER, ELSEWHERE), (better, other)) == (HOME, better, ELSEWHERE, other)


def test_files_carry_the_corrections_of_the_plan() -> None:
    """Whoever works on with the tables sees what they rest on."""
    bare = make(partners=3)
    plan = dataclasses.replace(
        bare, inputs=dataclasses.replace(bare.inputs, record=Record(corrections=(HOME, PARTNER)))
    )
    for text in (tables.run_json(plan), tables.plan_json(plan)):
        told = json.loads(text)["corrections"]
        assert [one["call"] for one in told] == ["QM7TOR", "QF4LUM"]
        assert told[1]["receive_db"] == PARTNER.receive_db
    assert json.loads(tables.run_json(bare))["corrections"] == []


def test_the_radio_sheet_says_that_its_reports_are_corrected() -> None:
    plan = night_plan("A4")
    slots = plan.night(NIGHT).slots
    track = make_night_track(plan.inputs, NIGHT, plan.period.edges_of(NIGHT), [(one.start, one.end) for one in slots])
    record = Record(corrections=(dataclasses.replace(PARTNER, call=slots[0].call),))
    taught = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, record=record))
    told = [
        "corrected from the log" in next(fact.words for fact in slot.facts if fact.head == "Reports")
        for slot in radio_sheet(taught.night(NIGHT), track).pages[0]
    ]
    assert told[0]
    assert not any(told[1:])


@pytest.mark.parametrize(
    ("of_all", "words"),
    [
        (None, "On 3 cm QF4LUM was there in 81 % of agreed slots."),
        (0.9, "On 3 cm partners were there in 90 % of agreed slots (QF4LUM 81 %)."),
        (0.83, "On 3 cm partners were there in 83 % of agreed slots."),
    ],
)
def test_what_was_learnt_of_presence_is_told(of_all: float | None, words: str) -> None:
    """Of a partner also where of all together too little was learnt."""
    home = dataclasses.replace(HOME, presence=of_all)
    partner = dataclasses.replace(PARTNER, presence=0.81)
    lesson = SimpleNamespace(band="3cm", calls=("QM7TOR", "QF4LUM"), corrections=(home, partner))
    assert presence_told(cast("Review", SimpleNamespace(lessons=(lesson,)))) == words


def test_presence_goes_through_the_record_into_the_plan(tmp_path: Path) -> None:
    """Written, read back and counted: a partner's own share, home's for those of whom nothing was learnt, the file's
    word before that; of a partner that was only found absent the sides stay as its file says.
    """
    of_all = dataclasses.replace(HOME, presence=0.7, evening_db=0.9)
    away = Correction("QF4LUM", "3cm", 0.0, 0.0, 1.41, 1.41, "9 attempts", 0.35, 0.9, tells_sides=False)
    for name in ("season.yaml", *(f"{call}.yaml" for call in ("qm7tor", "qf4lum", "qj2kaw"))):
        text = (SEASON_FILE.parent / name).read_text("utf-8")
        kept = [line for line in text.splitlines() if "{call:" not in line or "QF4LUM" in line or "QJ2KAW" in line]
        (tmp_path / name).write_text("\n".join(kept) + "\n", "utf-8")
    (tmp_path / "record").mkdir()
    write_learnt(tmp_path, {}, (of_all, away))
    inputs = read_inputs(tmp_path / "season.yaml")
    assert inputs.record.corrections[0] == of_all
    known = inputs.record.corrections[1]
    assert (known.presence, known.tells_sides) == (0.35, False)
    shares = {one.call: presence_of(inputs, place) for place, one in enumerate(inputs.partners)}
    assert shares == {"QF4LUM": 0.35, "QJ2KAW": 0.7}
    own = dataclasses.replace(inputs.partners[inputs.place_of("QJ2KAW")], presence=0.5)
    told = dataclasses.replace(inputs, partners=tuple(own if one.call == own.call else one for one in inputs.partners))
    assert presence_of(told, told.place_of("QJ2KAW")) == 0.5
    # Evenings stay as doubt on top of what is left of a side; only presence leaves the sides as they were.
    assert correction_of(inputs, "QF4LUM", "3cm") is None
    assert side_variances_db2(inputs, inputs.home, "3cm")[0] == pytest.approx(0.5**2 + 0.9**2)
    assert side_variances_db2(inputs, inputs.partner("QF4LUM"), "3cm") == (2.0, 2.0)
    (check,) = check_stations(inputs, 3, "QF4LUM")
    section = next(one for one in check.sections if one.title == "Learnt from the log")
    assert [(line.quantity, line.value) for line in section.lines] == [("presence", 35)]
    assert correction_words(known) == "there in 35 % of agreed slots"
    assert correction_words(of_all).endswith("hears +0.4 ± 0.6 dB, there in 70 % of agreed slots")
