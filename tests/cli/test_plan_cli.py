"""The commands as a user types them: what they print, what they write, how they end."""

from __future__ import annotations

import csv
import gc
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline import cli
from pipeline.__main__ import COLLECT_AFTER, main
from pipeline.inputs.what_if import read_changes
from pipeline.plan.plan import make_plan
from pipeline.record.inputs import read_inputs
from pipeline.reports.places import demo_folder
from pipeline.reports.tables import agenda_in_words
from tests.conftest import Type
from tests.hostile.small_season import lay_out
from tests.plan.months import TODAY


def test_alone_it_says_what_to_do_next(mutual_moon: Type) -> None:
    code, out, _ = mutual_moon()
    assert code == 0
    assert "plan --demo" in out
    assert "new FOLDER" in out


def test_help_loads_nothing_heavy() -> None:
    """The heavy libraries load inside the commands: help must not wait for them."""
    script = (
        "import sys; sys.argv = ['mutual-moon', 'plan', '--help']\n"
        "from pipeline.cli import run\n"
        "code = run()\n"
        "print(sorted({'numpy', 'pandas', 'skyfield', 'weasyprint', 'scipy'} & set(sys.modules)), code)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.rstrip().endswith("[] 0")


def test_a_command_leaves_what_it_has_made_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Looking for unused cycles on the way out would take a tenth of a plan."""
    limits = gc.get_threshold()
    monkeypatch.setattr(cli, "run", lambda: 3)
    try:
        with pytest.raises(SystemExit) as ended:
            main()
        assert ended.value.code == 3
        assert gc.get_freeze_count() > 0
        assert gc.get_threshold()[0] == COLLECT_AFTER
    finally:
        gc.unfreeze()
        gc.set_threshold(*limits)


def test_check_loads_no_tables_and_no_solver(tmp_path: Path) -> None:
    """Most of a second that it takes is libraries: those that it does not ask stay out."""
    shutil.copytree(demo_folder(), tmp_path / "stations")
    script = (
        "import sys; sys.argv = ['mutual-moon', 'check']\n"
        "from pipeline.cli import run\n"
        "code = run()\n"
        "heavy = {'pandas', 'skyfield', 'highspy', 'scipy.optimize', 'jinja2', 'weasyprint'}\n"
        "heavy |= {'pipeline.commands.slips', 'pipeline.commands.plan', 'pipeline.terrain.tiles'}\n"
        "print(sorted(heavy & set(sys.modules)), code)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=tmp_path)
    assert done.stdout.rstrip().endswith("[] 0")


def test_every_module_of_commands_is_known() -> None:
    """A command loads its own module alone: one that is not named here would be there for nobody."""
    folder = Path(cli.__file__).parent / "commands"
    adding = {file.stem for file in folder.glob("*.py") if "@app.command(" in file.read_text(encoding="utf-8")}
    assert set(cli.MODULES.values()) == adding
    assert list(cli.load(cli.MODULES).commands) == list(cli.MODULES)
    assert len(cli.app.registered_commands) == len(cli.MODULES)


def test_every_command_has_help_and_an_example(mutual_moon: Type) -> None:
    _, out, _ = mutual_moon("--help")
    commands = [line.split()[0] for line in out.split("Commands:")[1].splitlines() if line.strip()]
    assert {"plan", "new", "add", "import", "explain", "check", "year"} <= set(commands)
    for command in commands:
        code, text, _ = mutual_moon(command, "--help")
        assert code == 0
        assert "Example:" in text, command


def test_a_demo_month_without_pdf(mutual_moon: Type, tmp_path: Path) -> None:
    """What it writes and tells; the same again gives the same bytes in another folder."""
    code, out, _ = mutual_moon("plan", "--demo", "--no-pdf")
    assert code == 0
    data = tmp_path / "out" / "2027-03" / "data"
    with (data / "windows.csv").open(newline="") as file:
        windows = list(csv.DictReader(file))
    assert len(windows) > 100
    assert {row["partner"] for row in windows} >= {"QF4LUM", "QG8FEN"}
    run_record = json.loads((data / "run.json").read_text())
    assert run_record["plan_number"] in out
    assert "season.yaml" in json.dumps(run_record)
    assert str(tmp_path) not in (data / "run.json").read_text()
    assert (tmp_path / "out" / "2027-03" / "calendar" / "calendar.html").is_file()
    assert "QI9TEA" in out
    assert "no window" in out

    assert mutual_moon("plan", "--demo", "--no-pdf", "--out", "again")[0] == 0
    first, second = (
        {path.relative_to(tmp_path / folder): path.read_bytes() for path in (tmp_path / folder).rglob("*.*")
         if path.is_file()}
        for folder in ("out", "again")
    )  # fmt: skip
    assert len(first) > 10
    assert [name for name in first | second if first.get(name) != second.get(name)] == []


def test_new_add_plan(mutual_moon: Type, tmp_path: Path) -> None:
    """A new user's way: lay out a folder, add a partner from a chat, plan."""
    code, out, _ = mutual_moon("new", "mine")
    assert code == 0
    assert "plan --season" in out
    season = str(Path("mine") / "season.yaml")
    code, _, err = mutual_moon("plan", "--season", season)
    assert code == 2
    assert "no partner" in err
    words = ("add", "QF4LUM", "--season", season, "--locator", "KP10", "--dish-diameter-m", "2.4", "--power-w", "40")
    assert mutual_moon(*words)[0] == 0
    code, _, err = mutual_moon(*words)
    assert code == 2
    assert "QF4LUM has a file already" in err
    assert mutual_moon("plan", "--season", season, "--no-pdf", "--month", "2027-03")[0] == 0
    assert (tmp_path / "out" / "2027-03" / "data" / "nights.csv").is_file()


def test_import_a_roster(mutual_moon: Type, tmp_path: Path) -> None:
    mutual_moon("new", "mine")
    (tmp_path / "roster.csv").write_text(
        "call,position.locator,bands.3cm.antenna.dish_diameter_m,bands.3cm.power_w\n"
        "QA1AA,KP10,1.2,20\nQA2AA,RE66,3,50\nQA3AA,FN65,1,10\n"
    )
    season = str(Path("mine") / "season.yaml")
    code, out, _ = mutual_moon("import", "roster.csv", "--season", season)
    assert code == 0
    assert "time_zone is taken by the place in 2 of 3 files, marked there; change it where" in out
    # Maine and New Brunswick share FN65.
    zones = [(tmp_path / "mine" / f"qa{number}aa.yaml").read_text().count("time_zone: ") for number in (1, 2, 3)]
    assert zones == [1, 1, 0]
    assert {path.name for path in (tmp_path / "mine").iterdir()} >= {"qa1aa.yaml", "qa2aa.yaml"}


def test_nothing_found_ends_with_three_and_files(mutual_moon: Type, tmp_path: Path) -> None:
    mutual_moon("new", "mine")
    (tmp_path / "mine" / "far.yaml").write_text(
        "call: QZ9ZZ\nposition: {latitude_deg: -52, longitude_deg: -174, height_m: 0}\nminimum_elevation_deg: 80\n"
    )
    season = str(Path("mine") / "season.yaml")
    code, out, _ = mutual_moon("plan", "--season", season, "--no-pdf", "--month", "2027-03")
    assert code == 3
    assert "no window" in out
    assert (tmp_path / "out" / "2027-03" / "data" / "partners.csv").is_file()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("plan",), "no such season file"),
        (("plan", "--demo", "--month", "2027-13"), "2027-13"),
        (("plan", "--demo", "--month", "2093-01"), "de421.bsp does not cover"),
        (("plan", "--dmeo"), "--demo"),
        (("plann",), "plan"),
        (("add",), "call"),
        (("import", "nowhere.csv"), "no folder"),
    ],
)
def test_wrong_input_gets_a_sentence(mutual_moon: Type, tmp_path: Path, words: tuple[str, ...], says: str) -> None:
    code, _, err = mutual_moon(*words)
    assert code == 2
    assert says in err
    assert "Traceback" not in err
    assert "defect" not in err
    assert not (tmp_path / "out").exists()


def test_hints_take_the_form_that_was_typed(mutual_moon: Type, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MUTUAL_MOON_TYPED", "python3 pipeline/bootstrap.py")
    assert "python3 pipeline/bootstrap.py plan --demo" in mutual_moon()[1]


def test_faults_are_all_told_and_nothing_is_written(mutual_moon: Type, tmp_path: Path) -> None:
    mutual_moon("new", "mine")
    station = tmp_path / "mine" / "my-station.yaml"
    station.write_text(
        station.read_text().replace("height_m: 12", "height_m: 2000000", 1).replace("time_zone", "time_zon", 1)
    )
    (tmp_path / "mine" / "other.yaml").write_text("call: QA1AA\nposition: {locator: ZZ99}\n")
    code, _, err = mutual_moon("plan", "--season", str(Path("mine") / "season.yaml"))
    assert code == 2
    for word in ("my-station.yaml, line", "2000000", "time_zone", "other.yaml, line 2", "nothing was written"):
        assert word in err
    assert not (tmp_path / "out").exists()


README = Path(__file__).resolve().parents[2] / "README.md"


def test_every_command_stands_in_the_readme(mutual_moon: Type) -> None:
    _, out, _ = mutual_moon("--help")
    text = README.read_text(encoding="utf-8")
    for line in out.split("Commands:")[1].splitlines():
        if line.strip():
            assert f"| `{line.split()[0]}" in text, line


def test_the_station_of_the_readme_reads(mutual_moon: Type, tmp_path: Path) -> None:
    """The six lines that a newcomer copies are a station without a fault, and with them a plan."""
    station = README.read_text(encoding="utf-8").split("```yaml\n")[1].split("```")[0]
    mutual_moon("new", "mine")
    (tmp_path / "mine" / "two-oaks.yaml").write_text(station)
    season = str(Path("mine") / "season.yaml")
    code, out, err = mutual_moon("plan", "--no-pdf", "--month", "2027-03", "--season", season)
    assert code == 0, err
    assert "QA1AA" in out


def test_a_tried_agenda_as_json(mutual_moon: Type, tmp_path: Path) -> None:
    """The agenda alone on the output, rows as in agenda.csv; a list in a change is taken as the shell hands it over."""
    lay_out(tmp_path)
    change = 'QF4LUM.available=[{"days":["sat","sun"],"from":"00:00","to":"24:00"}]'
    code, out, _ = mutual_moon("plan", "--what-if", change, "--what-if", "season.policy.night_cost=0", "--json")
    assert code == 0
    rows = json.loads(out)
    inputs = read_inputs(
        tmp_path / "stations" / "season.yaml", None, read_changes([change, "season.policy.night_cost=0"])
    )
    plan = make_plan(inputs, TODAY)
    assert [row["partner"] for row in rows] == list(plan.agenda["partner"])
    assert [row["chance"] for row in rows] == pytest.approx(list(plan.agenda["chance"]), abs=1e-4)
    assert list(rows[0]) == list(agenda_in_words(plan).columns)
    assert not (tmp_path / "out").exists()
    code, out, err = mutual_moon("plan", "--json")
    assert (code, out) == (2, "")
    assert "--what-if" in err
