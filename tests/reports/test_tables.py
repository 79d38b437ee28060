"""The data files: readable back to the same figures, with units, without clock or machine in them."""

import csv
import dataclasses
import datetime as dt
import io
import json

import numpy as np
import pandas as pd
import pytest

from pipeline.absence.causes import Absence, Cause, TooWeak
from pipeline.absence.remedies import LargerDish, Tried
from pipeline.plan.plan import Plan
from pipeline.reports import table_text, tables
from pipeline.reports.table_text import columns_of, json_rows
from tests.reports.invented_plan import make


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make(partners=3)


def test_csv_keeps_known_digits_and_instants(plan: Plan) -> None:
    text = tables.csv_text(plan.windows)
    assert "\r" not in text
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == len(plan.windows)
    first = plan.windows.iloc[0]
    assert float(rows[0]["home_azimuth_start_deg"]) == round(first["home_azimuth_start_deg"], 4)
    assert rows[0]["window_start_utc"].endswith("Z")
    assert pd.Timestamp(rows[0]["window_start_utc"]) == first["window_start_utc"].round("100ms")
    assert "." in rows[0]["window_start_utc"]
    assert dt.date.fromisoformat(rows[0]["night"]) == first["night"]


def test_missing_values_are_empty_in_csv_and_null_in_json() -> None:
    frame = pd.DataFrame(
        {
            "a_utc": pd.to_datetime(["2027-03-01T12:00:00.5Z", None], utc=True),
            "b_db": [np.nan, 1.5],
            "night": [dt.date(2027, 3, 1), None],
            "count": [1, 2],
        }
    )
    assert tables.csv_text(frame).splitlines() == [
        "a_utc,b_db,night,count",
        "2027-03-01T12:00:00.5Z,,2027-03-01,1",
        ",1.5,,2",
    ]
    missing = json.loads(json_rows(columns_of(frame)))[1]
    assert missing == {"a_utc": None, "b_db": 1.5, "night": None, "count": 2}


def test_an_instant_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="without a zone"):
        tables.csv_text(pd.DataFrame({"a_utc": pd.to_datetime(["2027-03-01T12:00:00"])}))


def test_plan_json_has_everything_with_units(plan: Plan) -> None:
    whole = json.loads(tables.plan_json(plan))
    assert whole["plan"]["number"] == "K7QD"
    assert len(whole["windows"]) == len(plan.windows)
    assert len(whole["samples"]["time_utc"]) == len(plan.samples)
    assert whole["nights"][0]["night"] == "2027-03-01"
    figures = {name for name in plan.windows.columns if plan.windows[name].dtype.kind == "f"}
    assert figures <= set(whole["units"])
    assert whole["units"]["home_azimuth_start_deg"] == "degree"


def test_reasons_why_not_are_columns_of_partners_and_nights() -> None:
    """The plan holds causes; their sentences stand in the files alone."""
    plan = make(partners=2, blind="QF4LUM")
    written = tables.frames(plan)
    partners = written["partners"].set_index("partner")
    assert list(partners.columns[-4:]) == ["no_window_reason", "ground_distance_km", "bearing_deg", "no_slot_reason"]
    assert partners.loc["QF4LUM", "no_window_reason"] == "the Moon never rises at QF4LUM in this period"
    assert partners.loc["QF4LUM", "no_slot_reason"] == "no window: the Moon never rises at QF4LUM in this period"
    served = partners.loc[plan.agenda["partner"].iloc[0]]
    assert (served["no_window_reason"], served["no_slot_reason"]) == ("", "")
    assert written["nights"].columns[-1] == "no_slot_reason"
    used = written["nights"]["night"].isin(plan.agenda["night"])
    assert ((written["nights"]["no_slot_reason"] == "") == used).all()
    assert "no_slot_reason" not in plan.nights


def test_slots_by_the_clocks_of_both_ends_are_columns_of_the_agenda() -> None:
    """The plan holds instants and values; the files have them in words, where a reader looks for them."""
    plan = make()
    written = tables.frames(plan)["agenda"]
    columns = written.columns.tolist()
    place = columns.index("slot_end_utc")
    assert columns[place + 1 : place + 3] == ["home_local", "partner_local"]
    assert [one for one in columns if one not in ("home_local", "partner_local")] == plan.agenda.columns.tolist()
    for row in written.itertuples():
        local = row.slot_start_utc.tz_convert(plan.zone)
        assert row.home_local.startswith(f"{local:%Y-%m-%d %H:%M} to ")
        zone = plan.inputs.partner(row.partner).time_zone
        there = f"{row.slot_start_utc.tz_convert(zone):%Y-%m-%d %H:%M} " if zone else ""
        assert row.partner_local.startswith(there)
        assert bool(row.partner_local) == bool(zone)
        assert row.fall_back.startswith("if missed: ")


def test_run_json_tells_the_provenance_and_no_path(plan: Plan) -> None:
    text = tables.run_json(plan)
    record = json.loads(text)
    assert record["plan_number"] == "K7QD"
    assert record["inputs"]["season.yaml"] == "ab" * 32
    assert record["versions"]["numpy"] == np.__version__
    assert record["ephemeris"]
    assert record["agenda_gap_contacts"] == 0.0
    assert record["ut1"]
    assert record["assumed"]["QF4LUM"]
    assert '": "/' not in text


def _texts(plan: Plan) -> dict[str, str]:
    """All data files as they are written, in their order."""
    parts = {name: [one] if isinstance(one, bytes) else one for name, one in tables.data_files(plan).items()}
    made = {name: b"".join(some).decode() for name, some in parts.items()}
    assert {name: b"".join(some).decode() for name, some in parts.items()} == made
    return made


@pytest.mark.parametrize("rows", [1, 7, 10_000])
def test_a_large_table_is_the_same_in_any_blocks(plan: Plan, rows: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Few rows are held as text at a time; JSON without the CSV before it is the same too."""
    samples, held = plan.samples.head(20), []
    whole = table_text.columns_of

    def counted(frame: pd.DataFrame) -> list[table_text.Column]:
        held.append(len(frame))
        return whole(frame)

    monkeypatch.setattr(table_text, "BLOCK_ROWS", rows)
    monkeypatch.setattr(table_text, "columns_of", counted)
    text = table_text.BlockText(samples)
    assert b"".join(text.csv()).decode() == table_text.csv_of(whole(samples))
    assert max(held) <= rows
    assert sum(held) == len(samples)
    lines = [f"  {table_text.json_text(one.name)}: [{', '.join(one.json)}]" for one in whole(samples)]
    assert b"".join(text.json()).decode() == "{\n" + ",\n".join(lines) + "\n}"
    assert sum(held) == len(samples)
    assert b"".join(table_text.BlockText(samples).json()).decode() == "{\n" + ",\n".join(lines) + "\n}"


@pytest.mark.parametrize("cell", ["plain", "", "a,b", 'a "b"', "a\nb", "a\rb", "a,\nb", " a"])
@pytest.mark.parametrize("names", [["one"], ["one", "two"], ["one", "two,three"]])
def test_cells_are_quoted_as_the_csv_writer_does(cell: str, names: list[str]) -> None:
    """Of the standard library, RFC 4180: rows that are joined without it are the same."""
    columns = [table_text.Column(name, ["0", cell, ""], []) for name in names]
    wanted = io.StringIO()
    writer = csv.writer(wanted, lineterminator="\n")
    writer.writerows([names, *([one] * len(names) for one in ("0", cell, ""))])
    assert table_text.csv_of(columns) == wanted.getvalue()


@pytest.mark.parametrize("name", ["QM7TOR.yaml", "/home/someone/season.yaml"])
def test_paths_lose_their_folder(name: str) -> None:
    assert "/" not in tables._relative(name)


def test_no_windows_at_all_still_writes_files() -> None:
    files = _texts(make(partners=1, blind="QF4LUM"))
    assert files["windows.csv"].startswith("partner,")
    assert json.loads(files["plan.json"])["windows"] == []
    assert sorted(files) == [
        "absences.csv",
        "agenda.csv",
        "alternatives.csv",
        "nights.csv",
        "partners.csv",
        "plan.json",
        "run.json",
        "samples.csv",
        "trips.csv",
        "windows.csv",
    ]


def test_absences_have_their_change_slot_and_chance(plan: Plan) -> None:
    """The columns of the contract; what is not promised is empty; a partner of whom nothing is wanted has no row."""
    dish = Tried(
        (LargerDish("partner", 2.4),),
        "QF4LUM.bands.3cm.antenna.dish_diameter_m=2.4",
        dt.datetime(2027, 3, 6, 3, 30, tzinfo=dt.UTC),
        0.61,
    )
    told = (
        TooWeak(0.8, True, tried=dish),
        Absence(Cause.SUN_TOO_NEAR, second=Cause.HOURS_DO_NOT_MEET),
        Absence(Cause.NOT_WANTED, wanted=0),
    )
    files = _texts(dataclasses.replace(plan, absences=told))
    calls = [station.call for station in plan.inputs.partners]
    assert files["absences.csv"].splitlines() == [
        "partner,cause,second_cause,change,slot_start_utc,chance",
        f"{calls[0]},chance below marginal,,{dish.change},2027-03-06T03:30:00.0Z,0.61",
        f"{calls[1]},Sun too near,hours do not meet,,,",
    ]
    rows = json.loads(files["plan.json"])["absences"]
    assert [row["partner"] for row in rows] == calls[:2]
    assert rows[1]["change"] is None
    assert rows[0]["chance"] == 0.61
    nobody = _texts(dataclasses.replace(plan, absences=(None,) * 3))
    assert nobody["absences.csv"] == "partner,cause,second_cause,change,slot_start_utc,chance\n"
