"""The command `review` from logs to pages and record; corrections that make the next month's predictions better."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
import shutil
from contextlib import AbstractContextManager
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader
from typer.testing import CliRunner, Result

from pipeline.cli import app
from pipeline.explain.explain import explain
from pipeline.inputs.model import Mount
from pipeline.pairs.corrections import pair_spreads_db
from pipeline.pairs.survey import Survey, make_survey
from pipeline.record import writing as record_writing
from pipeline.record.attempts import COLUMNS
from pipeline.record.inputs import Inputs, read_inputs
from pipeline.record.model import Correction
from pipeline.record.writing import record_lock
from pipeline.review.calibration import brier
from pipeline.review.compare import compare
from pipeline.review.corrections import compared, lessons_of
from pipeline.review.questions import moon_questions
from pipeline.review.reading_logs import read_logs
from pipeline.review.review import with_corrections
from pipeline.windows.span import make_span
from tests.plan.months import demo_inputs, with_policy
from tests.review.simulation import Offsets, as_adif, draw_offsets, simulate
from tests.review.test_method_words import NAMED

STATIONS = Path(__file__).resolve().parents[2] / "stations"
# A few nights of the demo's month: enough for every step, quick to plan.
FEW_NIGHTS = "dates: 2027-03-17/2027-03-26"
PARTNERS = ("QJ2KAW", "QT8NUI", "QG8FEN")


def survey(inputs: Inputs) -> Survey:
    period = make_span(inputs.season, ZoneInfo(inputs.home.time_zone or "UTC"), dt.date(2026, 1, 1))
    return make_survey(inputs, period, lambda _: None)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The demo's stations with three partners, a season of ten nights, and a log beside them."""
    stations = tmp_path / "stations"
    stations.mkdir()
    for call in ("QM7TOR", *PARTNERS):
        shutil.copy(STATIONS / f"{call.lower()}.yaml", stations)
    season = (STATIONS / "season.yaml").read_text("utf-8")
    season = re.sub(r"months: .*", FEW_NIGHTS, season).replace("policy:", "policy:\n  step_minutes: 30\n")
    kept = [line for line in season.splitlines() if "{call:" not in line or any(call in line for call in PARTNERS)]
    (stations / "season.yaml").write_text("\n".join(kept) + "\n", "utf-8")
    inputs = read_inputs(stations / "season.yaml")
    truth = {"QM7TOR": Offsets(-1.0, 0.5), "QJ2KAW": Offsets(-2.0, -1.0), "QT8NUI": Offsets(1.5, 2.0)}
    (tmp_path / "march.adi").write_text(as_adif(simulate(inputs, survey(inputs), truth, 3)), "utf-8")  # type: ignore[arg-type]
    return tmp_path


def typed(folder: Path, *words: str) -> Result:
    season = ["--season", str(folder / "stations" / "season.yaml"), "--out", str(folder / "out")]
    return CliRunner().invoke(app, ["review", *words, *season])


def test_from_a_log_to_pages_and_back(folder: Path) -> None:
    """Review, apply, plan, take back: each step changes what it says and nothing else."""
    log, record = str(folder / "march.adi"), folder / "stations" / "record"
    season = folder / "stations" / "season.yaml"
    bare = read_inputs(season)

    result = typed(folder, log)
    assert result.exit_code == 0, result.output
    assert "contacts completed in" in result.stdout
    assert "--apply puts the corrections into it" in result.stdout
    assert not record.exists()
    first = {file.name: file.read_bytes() for file in (folder / "out").glob("review.*")}
    assert set(first) == {"review.pdf", "review.html", "review.csv"}
    reader = PdfReader(folder / "out" / "review.pdf")
    words = " ".join(page.extract_text() for page in reader.pages)
    for call in ("QM7TOR", *PARTNERS):
        assert call in words
    assert all("plan " in page.extract_text() for page in reader.pages)
    # What was learnt and what to do stand first.
    front = " ".join(reader.pages[0].extract_text().split())
    assert "once review --apply has put it into the record" in front
    page = (folder / "out" / "review.html").read_text("utf-8")
    assert all(f"<strong>{name}.</strong>" in page for name in NAMED)
    for figure in (
        "counts for a third of a plain decode",
        "counts for 20 slots",
        "for 5 to 150 slots",
        "but for 5\N{NO-BREAK SPACE}% of them",
        "60 attempts",
    ):
        assert figure in page
    learnt, table = (front.index(words) for words in ("Against the files", "What the log teaches"))
    assert learnt < table
    table = pd.read_csv(folder / "out" / "review.csv")
    assert table["time_utc"].str.fullmatch(r"2027-03-\d\dT\d\d:\d\d:00Z").all()

    # The same again: the same bytes.
    assert typed(folder, log).exit_code == 0
    assert {file.name: file.read_bytes() for file in (folder / "out").glob("review.*")} == first

    applied = typed(folder, log, "--apply", "--no-pdf")
    assert applied.exit_code == 0, applied.output
    assert "deleting it takes the corrections back" in applied.stdout
    assert not (folder / "out" / "review.pdf").exists()
    taught = read_inputs(season)
    assert taught.record.corrections
    assert taught.digest != bare.digest
    told = {line.split()[0]: line for line in applied.stdout.splitlines() if line.startswith("  Q") and "sends" in line}
    for one in taught.record.corrections:
        printed = re.search(r"sends +([+−]?[\d.]+) ± ([\d.]+)", told[one.call])
        assert printed is not None
        assert float(printed[1].replace("−", "-")) == pytest.approx(one.transmit_db, abs=0.051)
        assert float(printed[2]) == pytest.approx(one.transmit_uncertainty_db, abs=0.051)

    # The plan hears what was learnt, to the decibel.
    plain, corrected = (survey(inputs).samples for inputs in (bare, taught))
    by_call = {one.call: one for one in taught.record.corrections}
    home = by_call["QM7TOR"]
    for call in PARTNERS:
        mine, there = plain["partner"] == call, by_call[call]
        shift = corrected.loc[mine, "snr_at_partner_db"] - plain.loc[mine, "snr_at_partner_db"]
        assert shift.to_numpy() == pytest.approx(home.transmit_db + there.receive_db, abs=1e-9)
        shift = corrected.loc[mine, "margin_at_home_db"] - plain.loc[mine, "margin_at_home_db"]
        assert shift.to_numpy() == pytest.approx(there.transmit_db + home.receive_db, abs=1e-9)
    assert (corrected["degradation_db"] == plain["degradation_db"]).all()

    # Reviewing the same log again teaches the same: nothing is counted twice.
    before = (record / "corrections.yaml").read_bytes()
    again = typed(folder, log, "--apply", "--no-pdf")
    assert again.exit_code == 0, again.output
    assert (record / "corrections.yaml").read_bytes() == before
    # Nor does the program praise itself for having predicted what it was taught.
    assert "the station files alone" in again.stdout
    page = (folder / "out" / "review.html").read_text("utf-8")
    assert "The record holds what was learnt; the next plan counts it." in page
    assert "No partner's chance in its best window changes" in page
    assert _score(again.stdout) == _score(result.stdout)

    (record / "corrections.yaml").unlink()
    back = read_inputs(season)
    assert back.digest == bare.digest
    assert survey(back).samples.equals(plain)


def test_nothing_is_learnt_from_a_log_by_home_s_clock(folder: Path) -> None:
    """The log of the slots agreed, three hours early as home's clock shows it: asked about, and not applied."""
    inputs = read_inputs(folder / "stations" / "season.yaml")
    entries = read_logs([folder / "march.adi"], inputs)[0]
    near, wide = dt.timedelta(minutes=10), dt.timedelta(minutes=50)
    both = [(one, dataclasses.replace(one, time_utc=one.time_utc - dt.timedelta(hours=3))) for one in entries]
    # With the Moon up at either time, or that would be asked about.
    up = [(one, early) for one, early in both if not moon_questions([early], inputs)]
    two = [up[0], up[-1]]
    lines = ["slots:"]
    for label, (one, _) in zip("AB", two, strict=True):
        edges = ", ".join(
            f"{name}: {moment:%Y-%m-%dT%H:%MZ}"
            for name, moment in (("start", one.time_utc - near), ("end", one.time_utc + wide))
        )
        lines.append(f"  - {{partner: {one.call}, label: {label}, {edges}, state: confirmed}}")
    record = folder / "stations" / "record"
    record.mkdir()
    (record / "agenda.yaml").write_text("\n".join(lines) + "\n", "utf-8")
    adif = "".join(
        f"<CALL:6>{one.call}<QSO_DATE:8>{one.time_utc:%Y%m%d}<TIME_ON:4>{one.time_utc:%H%M}<BAND:3>3CM<MODE:3>Q65"
        "<RST_SENT:3>-15<RST_RCVD:3>-15<PROP_MODE:3>EME<EOR>\n"
        for _, one in two
    )
    (folder / "early.adi").write_text(f"<EOH>\n{adif}", "utf-8")
    result = typed(folder, str(folder / "early.adi"), "--no-pdf", "--apply")
    assert result.exit_code == 2
    assert "lie outside their slots, inside by home's clock (UTC-03:00); write UTC: " in result.stderr
    assert "Nothing was applied" in result.stderr
    assert [file.name for file in record.iterdir()] == ["agenda.yaml"]


def test_reports_that_are_no_ratios_are_questioned(folder: Path) -> None:
    """All figures 40 dB too high: nothing is believed of them, and the first page says where to look."""
    log = folder / "march.adi"
    raised = re.sub(r"(<RST_\w+:3>)-(\d\d)", lambda one: f"{one[1]}{40 - int(one[2]):+03d}", log.read_text("utf-8"))
    log.write_text(raised, "utf-8")
    result = typed(folder, str(log), "--no-pdf")
    assert result.exit_code == 0, result.output
    page = " ".join((folder / "out" / "review.html").read_text("utf-8").split())
    found = re.search(r"(\d+) of (\d+) reports are far off and were doubted", page)
    assert found is not None
    assert int(found[1]) >= 0.9 * int(found[2])


def test_months_add_up_whether_given_one_by_one_or_together(folder: Path) -> None:
    """The log cut in two: applied one after the other, its halves teach what the whole does; the plan is as told."""
    text = (folder / "march.adi").read_text("utf-8")
    head, body = text.split("<EOH>\n")
    records = [line for line in body.splitlines() if line.strip()]
    parts = []
    for number, some in enumerate((records[:5], records[5:])):
        part = folder / f"part-{number}.adi"
        part.write_text(f"{head}<EOH>\n" + "\n".join(some) + "\n", "utf-8")
        parts.append(str(part))
    record = folder / "stations" / "record"
    assert typed(folder, *parts, "--apply", "--no-pdf").exit_code == 0
    whole = {file.name: file.read_text("utf-8") for file in record.iterdir()}
    shutil.rmtree(record)
    for part in parts:
        result = typed(folder, part, "--apply", "--no-pdf")
        assert result.exit_code == 0, result.output
    assert "5 attempts of earlier reviews" in result.stdout
    assert {file.name: file.read_text("utf-8") for file in record.iterdir()} == whole
    # The second half was predicted by what the first had taught, which is told.
    assert "have the record's corrections in them" in result.stdout


def test_two_reviews_at_once_lose_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A whole review is applied after another has read the record and before that one holds its lock: both count."""
    head, body = (folder / "march.adi").read_text("utf-8").split("<EOH>\n")
    records = [line for line in body.splitlines() if line.strip()]
    parts = [folder / "part-0.adi", folder / "part-1.adi"]
    for part, some in zip(parts, (records[:5], records[5:]), strict=True):
        part.write_text(f"{head}<EOH>\n" + "\n".join(some) + "\n", "utf-8")
    record = folder / "stations" / "record"
    for part in reversed(parts):
        assert typed(folder, str(part), "--apply", "--no-pdf").exit_code == 0
    names = ("attempts.csv", "corrections.yaml")
    one_by_one = {name: (record / name).read_text("utf-8") for name in names}
    shutil.rmtree(record)

    def in_between(place: Path) -> AbstractContextManager[Path]:
        monkeypatch.setattr(record_writing, "record_lock", record_lock)
        assert typed(folder, str(parts[1]), "--apply", "--no-pdf").exit_code == 0
        return record_lock(place)

    monkeypatch.setattr(record_writing, "record_lock", in_between)
    assert typed(folder, str(parts[0]), "--apply", "--no-pdf").exit_code == 0
    assert {name: (record / name).read_text("utf-8") for name in names} == one_by_one


@pytest.mark.parametrize("way", ["TR", "AUR", "EME"])
def test_only_what_was_compared_is_remembered(folder: Path, way: str) -> None:
    """A contact by another way than the Moon is in no record, and is not counted the next time; one over it is."""
    log = folder / "march.adi"
    head, body = log.read_text("utf-8").split("<EOH>\n")
    records = [line for line in body.splitlines() if line.strip()]
    log.write_text(f"{head}<EOH>\n" + "\n".join(records[2:]) + "\n", "utf-8")
    other = [re.sub(r"<PROP_MODE:3>EME", f"<PROP_MODE:{len(way)}>{way}", line) for line in records[:2]]
    assert all(f">{way}" in line for line in other)
    (folder / "other.adi").write_text("<EOH>\n" + "\n".join(other) + "\n", "utf-8")
    over_the_moon = len(records) - (0 if way == "EME" else 2)
    assert typed(folder, str(log), str(folder / "other.adi"), "--apply", "--no-pdf").exit_code == 0
    kept = (folder / "stations" / "record" / "attempts.csv").read_text("utf-8").splitlines()[1:]
    assert len(kept) == over_the_moon
    again = typed(folder, str(log), "--no-pdf")
    assert ("2 attempts of earlier reviews" in again.stdout) == (way == "EME")


def test_months_that_teach_nothing_alone_add_up(folder: Path) -> None:
    """Attempts one at a time, too few to teach, are kept; together they teach what the log does as a whole."""
    head, body = (folder / "march.adi").read_text("utf-8").split("<EOH>\n")
    records = [line for line in body.splitlines() if line.strip()]
    bare = [re.sub(r"<(RST_SENT|RST_RCVD):\d+>\S+ ?", "", line) for line in records[:2]]
    record = folder / "stations" / "record"
    for number, line in enumerate(bare, start=1):
        line = re.sub(r"<QSO_COMPLETE:\d>\w+ ?", "", line).replace("<EOR>", "<QSO_COMPLETE:1>Y <EOR>")
        part = folder / f"part-{number}.adi"
        part.write_text(f"{head}<EOH>\n{line}\n", "utf-8")
        told = typed(folder, str(part), "--no-pdf")
        assert "keeps the attempts there, so that months add up" in told.stdout
        result = typed(folder, str(part), "--apply", "--no-pdf")
        assert result.exit_code == 0, result.output
        assert "teaches nothing of the stations yet; its attempts count in the next review" in result.stdout
        assert len((record / "attempts.csv").read_text("utf-8").splitlines()) == 1 + number
        assert not (record / "corrections.yaml").exists()
        assert typed(folder, str(part), "--no-pdf").stdout.count("keeps the attempts") == 0


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("QT8NUI,QM7TOR,soon,3cm,,CW,,,,,yes,,,,,,,,,,", "record/attempts.csv, line 2: time_utc is 'soon'"),
        ("QT8NUI,QM7TOR", "record/attempts.csv, line 2: the line has 2 columns"),
        (
            "QT8NUI,QM7TOR,2027-03-18T10:00:00Z,3cm,,CW,,,,,perhaps,,,,,,,,,,",
            "record/attempts.csv, line 2: completed is 'perhaps'",
        ),
    ],
)
def test_a_damaged_memory_is_named(folder: Path, line: str, sentence: str) -> None:
    record = folder / "stations" / "record"
    record.mkdir()
    (record / "attempts.csv").write_text(f"{','.join(COLUMNS)}\n{line}\n", "utf-8")
    result = typed(folder, str(folder / "march.adi"), "--no-pdf")
    assert result.exit_code == 2
    assert result.output.count("\n") == 1
    assert sentence in result.output
    assert "delete the line" in result.output


def _score(printed: str) -> str:
    found = re.search(r"Brier score ([\d.]+)", printed)
    assert found is not None
    return found[1]


def test_explain_tells_each_correction_and_agrees_with_the_plan() -> None:
    inputs = with_policy(demo_inputs(), step_minutes=30)
    inputs = with_corrections(
        inputs,
        (
            Correction("QM7TOR", "3cm", -0.7, 0.4, 0.5, 0.6, "31 reports in 40 attempts up to 2027-02-27"),
            Correction("QT8NUI", "3cm", 1.2, -0.9, 0.8, 0.9, "14 reports in 7 attempts up to 2027-02-27"),
        ),
    )
    samples = survey(inputs).samples
    row = samples[samples["partner"] == "QT8NUI"].iloc[7]
    made = explain(inputs, "QT8NUI", row["time_utc"].to_pydatetime())
    for name in ("snr_at_partner_db", "snr_at_home_db", "home_echo_snr_db", "margin_at_home_db"):
        # The table's instants are whole microseconds.
        assert made.columns[name] == pytest.approx(row[name], abs=1e-6)
    section = next(one for one in made.sections if one.title == "Signal of QT8NUI at QM7TOR")
    lines = {line.quantity: line for line in section.lines}
    assert lines["+ correction, QT8NUI sending"].value == 1.2
    assert lines["+ correction, QM7TOR receiving"].value == 0.4
    assert lines["+ correction, QT8NUI sending"].source == inputs.record.corrections[1]
    # The lines add up: signs as they are written before each quantity.
    total = sum(
        (-1.0 if line.quantity.startswith("-") else 1.0) * float(line.value)  # type: ignore[arg-type]
        for line in section.lines
        if line.quantity != "signal to noise"
    )
    assert total == pytest.approx(made.columns["snr_at_home_db"], abs=1e-9)


def test_doubt_narrows_with_what_was_learnt() -> None:
    """All stated, nothing learnt: 2 dB each way, exactly. One end learnt: the other keeps its half of the variance."""
    inputs = demo_inputs()
    assert pair_spreads_db(inputs, "QF4LUM", "3cm") == {"partner": 2.0, "home": 2.0}
    one = with_corrections(inputs, (Correction("QF4LUM", "3cm", 0.0, 0.0, 0.6, 0.8, ""),))
    assert pair_spreads_db(one, "QF4LUM", "3cm") == {
        "partner": pytest.approx(np.sqrt(2.0 + 0.64)),
        "home": pytest.approx(np.sqrt(2.0 + 0.36)),
    }
    assert pair_spreads_db(one, "QF4LUM", "6cm") == {"partner": 2.0, "home": 2.0}


MONTHS = ("2027-01", "2027-02", "2027-03")


def _free_mount(inputs: Inputs) -> Inputs:
    return dataclasses.replace(inputs, home=dataclasses.replace(inputs.home, mount=Mount()))


def test_two_months_make_the_third_better(tmp_path: Path) -> None:
    """Three worlds of hidden offsets; January and February teach, March is predicted with and without.

    Of a few dozen attempts a season's score (Brier 1950) errs by more than files that happen to be right lose: the
    seasons are pooled. How many of them are better the worlds of `test_worlds` hold.

    Reports of March are sound, so that the root mean square is that of the predictions. Home's mount reaches all of the
    sky, so that the logs hold high passes too.
    """
    months = {month: _free_mount(with_policy(demo_inputs(month), step_minutes=60)) for month in MONTHS}
    surveys = {month: survey(inputs) for month, inputs in months.items()}
    march = months["2027-03"]
    off: dict[str, list[float]] = {"before": [], "after": []}
    score: dict[str, list[float]] = {"before": [], "after": []}
    changes: list[np.ndarray] = []
    for world in range(3):
        truth, entries = draw_offsets(march, world), []
        squares = []
        for number, (month, inputs) in enumerate(months.items()):
            wild = 0.0 if month == "2027-03" else 0.05
            attempts = simulate(inputs, surveys[month], truth, 10 * world + number, wild_share=wild)  # type: ignore[arg-type]
            log = tmp_path / f"{world}-{month}.adi"
            log.write_text(as_adif(attempts), "utf-8")
            entries.append(read_logs([log], inputs)[0])
        lessons = lessons_of(compared([*entries[0], *entries[1]], march), march)
        learnt = tuple(one for lesson in lessons for one in lesson.corrections)
        for name, inputs in (("before", march), ("after", with_corrections(march, learnt))):
            found = compare(entries[2], inputs)
            residuals = found[["residual_at_partner_db", "residual_at_home_db"]].to_numpy().ravel()
            off[name].append(float(np.sqrt(np.nanmean(residuals**2))))
            score[name].append(brier(found["predicted_chance"].to_numpy(), found["completed"].to_numpy()))
            squares.append((found["predicted_chance"].to_numpy() - found["completed"].to_numpy(float)) ** 2)
        changes.append(squares[1] - squares[0])
    assert np.mean(off["after"]) < np.mean(off["before"]) - 0.3
    assert np.mean(score["after"]) < 0.75 * np.mean(score["before"])
    # Better by more than twice the standard error of all seasons' attempts; no season worse by one of its own.
    every = np.concatenate(changes)
    assert every.mean() < -2.0 * every.std(ddof=1) / np.sqrt(every.size)
    assert all(one.mean() < one.std(ddof=1) / np.sqrt(one.size) for one in changes)
    assert sum(one.mean() < 0.0 for one in changes) >= 2


@pytest.mark.parametrize(
    ("log", "code", "sentence"),
    [
        (None, 2, "no such file"),
        ("<EOH>\n", 2, "there is no record in this file"),
        ("<CALL:6>QX9ABC <QSO_DATE:8>20270313 <TIME_ON:4>2310 <BAND:3>3cm <MODE:2>CW <EOR>\n", 3, "QX9ABC"),
        ("no log at all, a shopping list", 2, "log"),
    ],
)
def test_what_cannot_be_reviewed_is_said_in_a_sentence(folder: Path, log: str | None, code: int, sentence: str) -> None:
    path = folder / "other.adi"
    if log is not None:
        path.write_text(log, "utf-8")
    result = typed(folder, str(path), "--no-pdf")
    assert result.exit_code == code, result.output
    assert sentence in result.output
    assert "Traceback" not in result.output
    assert not (folder / "out").exists()
