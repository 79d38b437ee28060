"""The fresh-machine start: old interpreters, the stamp of a finished set-up, and what is said where something lacks."""

import ast
import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline import bootstrap
from tests import __main__ as checks

SCRIPT = Path(bootstrap.__file__)


def request(*words: str) -> bootstrap.Request:
    return bootstrap.split_arguments(words)


def standard_imports(tree: ast.AST) -> set[str]:
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    return {name.split(".")[0] for name in names}


# --- what an old interpreter meets


def test_parses_on_python_3_6() -> None:
    ast.parse(SCRIPT.read_text(encoding="utf-8"), feature_version=(3, 6))


def test_imports_the_standard_library_alone() -> None:
    # Python's own list of its standard modules.
    assert standard_imports(ast.parse(SCRIPT.read_text(encoding="utf-8"))) <= sys.stdlib_module_names


def test_annotations_are_evaluated_by_python_3_6() -> None:
    # PEP 585 (list[str]) came with 3.9 and PEP 604 (str | None) with 3.10: both parse before, and fail when run.
    tree = ast.parse(SCRIPT.read_text(encoding="utf-8"))
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    arguments = [argument.annotation for function in functions for argument in function.args.args]
    for annotation in arguments + [function.returns for function in functions]:
        text = ast.unparse(annotation) if annotation else ""
        assert "|" not in text
        assert not text.startswith(("list[", "dict[", "tuple[", "set["))


@pytest.mark.parametrize(
    ("platform", "newer", "to_type"),
    [
        ("linux", [], "sudo apt-get install -y python3 python3-venv"),
        ("darwin", [], "python3.13 pipeline/bootstrap.py plan"),
        ("win32", [], "py -3.13 pipeline/bootstrap.py plan"),
        ("linux", ["python3.12"], "`python3.12 pipeline/bootstrap.py plan`, which this machine has"),
    ],
)
def test_old_python_is_told_what_to_type(platform: str, newer: list[str], to_type: str) -> None:
    said = bootstrap.old_python_sentence((3, 8, 10), platform, "pipeline/bootstrap.py plan", newer)
    assert said.startswith("Mutual Moon needs Python 3.11 or newer, and this is Python 3.8: ")
    assert to_type in said
    assert "\n" not in said


def test_old_python_ends_with_exit_code_2(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 9, 2, "final", 0))
    monkeypatch.setattr(bootstrap, "run", lambda arguments: pytest.fail("went on with an old Python"))
    assert bootstrap.main(["plan"]) == 2
    assert "this is Python 3.9: " in capsys.readouterr().err


# --- what was typed


def test_arguments_go_on_to_the_command_without_the_flag_of_the_set_up() -> None:
    asked = request("plan", "--month", "2027-03", "--no-system-packages", "--out", "here")
    assert asked.arguments == ["plan", "--month", "2027-03", "--out", "here"]
    assert not asked.system_packages
    assert request("plan").system_packages


@pytest.mark.parametrize(
    ("words", "moves"),
    [
        (["plan"], True),
        (["plan", "--season", "mine/season.yaml"], False),
        (["plan", "--season=mine/season.yaml"], False),
        (["plan", "--demo"], False),
        (["review", "log.adi"], False),
        (["new", "folder"], False),
        (["plan", "--help"], False),
    ],
)
def test_demo_season_is_taken_where_no_other_is_meant(tmp_path: Path, words: list[str], moves: bool) -> None:
    assert bootstrap.needs_project_folder(request(*words), str(tmp_path)) is moves


def test_season_in_the_users_folder_comes_first(tmp_path: Path) -> None:
    (tmp_path / "stations").mkdir()
    (tmp_path / "stations" / "season.yaml").touch()
    assert not bootstrap.needs_project_folder(request("plan"), str(tmp_path))


def test_hints_take_the_typed_form(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bootstrap.shutil, "which", lambda name: "/usr/bin/" + name)
    monkeypatch.setattr(sys, "argv", ["pipeline/bootstrap.py", "plan"])
    monkeypatch.setattr(sys, "orig_argv", ["python3", "pipeline/bootstrap.py", "plan"])
    monkeypatch.setattr(bootstrap.os, "name", "posix")
    assert bootstrap.typed_form() == "python3 pipeline/bootstrap.py"


# --- the stamp


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A project folder with a finished set-up."""
    (tmp_path / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    (tmp_path / ".lock").mkdir()
    for name in (bootstrap.RUN_PACKAGES, bootstrap.TEST_PACKAGES):
        (tmp_path / name).write_text(f"{name}==1\n", encoding="utf-8")
    (tmp_path / ".venv").mkdir()
    (tmp_path / ".venv" / "python").touch()
    stamp = bootstrap.wanted_stamp(str(tmp_path), False)
    (tmp_path / ".venv" / "setup.json").write_text(json.dumps(stamp), encoding="utf-8")
    return tmp_path


def reason(root: Path, tests: bool = False) -> str:
    found = bootstrap.read_stamp(str(root / ".venv"), str(root / ".venv" / "python"))
    return bootstrap.setup_reason(found, bootstrap.wanted_stamp(str(root), tests))


def test_finished_set_up_is_left_alone(folder: Path) -> None:
    assert reason(folder) == ""


def test_interrupted_set_up_is_noticed(folder: Path) -> None:
    (folder / ".venv" / "setup.json").unlink()
    assert reason(folder) == "none has finished here yet"


def test_half_written_stamp_counts_as_none(folder: Path) -> None:
    stamp = folder / ".venv" / "setup.json"
    stamp.write_text(stamp.read_text(encoding="utf-8")[:20], encoding="utf-8")
    assert reason(folder) == "none has finished here yet"


def test_environment_without_its_python_counts_as_none(folder: Path) -> None:
    (folder / ".venv" / "python").unlink()
    assert reason(folder) == "none has finished here yet"


def test_changed_pyproject_is_noticed(folder: Path) -> None:
    (folder / "pyproject.toml").write_text("[project]\nversion = '2'\n", encoding="utf-8")
    assert reason(folder) == "pyproject.toml has changed"


def test_changed_lock_is_noticed(folder: Path) -> None:
    (folder / bootstrap.TEST_PACKAGES).write_text("other==1\n", encoding="utf-8")
    assert reason(folder) == ""
    (folder / bootstrap.RUN_PACKAGES).write_text("other==1\n", encoding="utf-8")
    assert reason(folder) == "the list of packages has changed"


def test_moved_folder_is_noticed(folder: Path) -> None:
    assert reason(folder.rename(folder.with_name("elsewhere"))) == "this folder was moved or copied"


def test_other_python_is_noticed(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 99, 0, "final", 0))
    assert reason(folder) == "the last one was for another Python"


def test_tests_need_more_packages_once(folder: Path) -> None:
    assert reason(folder, tests=True) == "the tests need more packages"
    stamp = bootstrap.wanted_stamp(str(folder), True)
    (folder / ".venv" / "setup.json").write_text(json.dumps(stamp), encoding="utf-8")
    assert reason(folder, tests=True) == ""


# --- the set-up itself, with the packages left out


@pytest.fixture
def setting(folder: Path, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The finished folder as the project's own; the commands that would run are noted instead."""
    ran: list[list[str]] = []
    monkeypatch.setattr(bootstrap, "ROOT", str(folder))
    monkeypatch.setattr(bootstrap, "VENV", str(folder / ".venv"))
    monkeypatch.setattr(bootstrap, "PYTHON", str(folder / ".venv" / "python"))
    monkeypatch.setattr(bootstrap, "LOG", str(folder / ".venv" / "setup.log"))

    def note(what: str, command: list[str], *_: object, **__: object) -> None:
        ran.append(command)
        (folder / ".venv" / "python").touch()

    monkeypatch.setattr(bootstrap, "run_logged", note)
    monkeypatch.setattr(bootstrap.subprocess, "run", lambda *_, **__: subprocess.CompletedProcess([], 0, "\n"))
    return ran


def packages(ran: list[list[str]]) -> list[str]:
    """What pip was asked for, the last words of each of its commands."""
    return [" ".join(command[command.index("off") + 1 :]) for command in ran if "pip" in command]


PROJECT = "--no-index --no-deps --no-build-isolation --editable ."


def test_nothing_runs_when_all_is_there(setting: list[list[str]]) -> None:
    bootstrap.prepare(request("plan"))
    assert setting == []


def test_interrupted_set_up_is_made_anew(setting: list[list[str]], folder: Path) -> None:
    (folder / ".venv" / "setup.json").unlink()
    (folder / ".venv" / "lib").mkdir()
    (folder / ".venv" / "lib" / "half.py").touch()
    bootstrap.prepare(request("plan"))
    assert setting[0][2:4] == ["-m", "venv"]
    assert packages(setting) == ["--require-hashes -r .lock/run.txt --only-binary :all:", PROJECT]
    assert not (folder / ".venv" / "lib").exists()
    assert reason(folder) == ""


def test_packages_for_tests_come_on_top_and_stay(setting: list[list[str]], folder: Path) -> None:
    bootstrap.prepare(request("test"))
    (folder / bootstrap.TEST_PACKAGES).write_text("other==1\n", encoding="utf-8")
    bootstrap.prepare(request("plan"))
    bootstrap.prepare(request("test"))
    assert packages(setting) == ["--require-hashes -r .lock/tests.txt", PROJECT] * 2
    assert not any("venv" in command for command in setting)


def test_finished_set_up_writes_nothing_and_waits_for_none(setting: list[list[str]], folder: Path) -> None:
    with (folder / ".venv" / "setup.lock").open("a") as other:
        assert bootstrap.take_lock(other.fileno())
        before = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
        bootstrap.prepare(request("plan"))
        assert {path: path.stat().st_mtime_ns for path in folder.rglob("*")} == before
    assert setting == []


def test_missing_libraries_of_pdf_are_no_end(
    setting: list[list[str]], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    answer = subprocess.CompletedProcess([], 0, "libpango-1.0-0 libharfbuzz-subset0\n")
    monkeypatch.setattr(bootstrap.subprocess, "run", lambda *_, **__: answer)
    monkeypatch.setattr(bootstrap, "install_debian_packages", lambda names, _: asked.append(names))
    (folder / ".venv" / "setup.json").unlink()
    bootstrap.prepare(request("plan"))
    assert asked == ["libpango-1.0-0 libharfbuzz-subset0"]
    assert reason(folder) == ""


def test_failing_step_leaves_no_stamp(setting: list[list[str]], folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(what: str, *_: object, **__: object) -> None:
        raise bootstrap.Trouble(what)

    monkeypatch.setattr(bootstrap, "run_logged", fail)
    with pytest.raises(bootstrap.Trouble, match="Loading packages"):
        bootstrap.prepare(request("test"))
    assert reason(folder) == "none has finished here yet"


def test_only_one_set_up_holds_the_lock(tmp_path: Path) -> None:
    with (tmp_path / "setup.lock").open("a") as first, (tmp_path / "setup.lock").open("a") as second:
        assert bootstrap.take_lock(first.fileno())
        assert not bootstrap.take_lock(second.fileno())
        first.close()
        assert bootstrap.take_lock(second.fileno())


# --- what is said where something lacks


def test_missing_ensurepip_names_the_package_and_the_command() -> None:
    # What venv of Python 3.11 on Debian 12 prints without python3-venv (from memory).
    lines = ["The virtual environment was not created successfully because ensurepip is not", "available."]
    assert "`sudo apt-get install -y python3-venv`" in bootstrap.failure_sentences("Making the environment", lines)
    # venv names ensurepip whatever made it fail.
    denied = ["Permission denied: 'pip'", "Error: Command '[python, -m, ensurepip]' returned non-zero exit status 1."]
    assert "a file is not yours or in use" in bootstrap.failure_sentences("Making the environment", denied)


@pytest.mark.parametrize(
    ("words", "user", "debian", "installs"),
    [
        (["plan"], 0, True, True),
        (["plan", "--no-system-packages"], 0, True, False),
        (["plan"], 1000, True, False),
        (["plan"], 0, False, False),
    ],
)
def test_system_packages_are_installed_as_root_on_debian_alone(
    monkeypatch: pytest.MonkeyPatch, words: list[str], user: int, debian: bool, installs: bool
) -> None:
    ran: list[list[str]] = []
    monkeypatch.setattr(bootstrap.os, "geteuid", lambda: user, raising=False)
    monkeypatch.setattr(bootstrap.os.path, "exists", lambda path: debian and path == "/etc/debian_version")
    monkeypatch.setattr(bootstrap, "run_logged", lambda _, command: ran.append(command))
    bootstrap.install_debian_packages("anything", request(*words))
    wanted = [["apt-get", "update"], ["apt-get", "install", "-y", "--no-install-recommends", "anything"]]
    assert ran == (wanted if installs else [])


def test_failing_apt_get_is_no_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(what: str, command: list[str]) -> None:
        raise FileNotFoundError(command[0])

    monkeypatch.setattr(bootstrap.os, "geteuid", lambda: 0, raising=False)
    monkeypatch.setattr(bootstrap.os.path, "exists", lambda path: True)
    monkeypatch.setattr(bootstrap, "run_logged", fail)
    bootstrap.install_debian_packages("anything", request("plan"))
    assert "apt-get" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device", "the disk is full"),
        ("WARNING: Retrying: NewConnectionError('Failed to establish a new connection')", "network does not answer"),
        ("[Errno 13] Permission denied: '.venv/setup.lock'", "a file is not yours or in use"),
        ("[Errno 30] Read-only file system: '.venv'", "a file is not yours or in use"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "nothing of it was installed"),
        ("ERROR: No matching distribution found for numpy==2.4.6", "another Python from 3.11 on"),
        ("ERROR: Something new", "its last lines say why"),
    ],
)
def test_failing_pip_gets_a_sentence_its_last_lines_and_the_log(line: str, reason: str) -> None:
    said = bootstrap.failure_sentences("Loading packages", ["first", *["between"] * 9, line, ""])
    assert said.startswith("Loading packages failed: ")
    assert reason in said.split("\n")[0]
    assert "  | " + line in said
    assert "first" not in said
    assert said.endswith("The whole log: " + bootstrap.LOG)


@pytest.mark.parametrize(
    ("line", "stage"),
    [
        ("Collecting numpy==2.4.6 (from -r .lock/run.txt (line 2))", "Loading"),
        ("Installing collected packages: a, b, c", "Unpacking 3 packages"),
        ("WARNING: Retrying (Retry(total=4, connect=None)) after connection broken", "The network does not answer yet"),
        ("  Downloading numpy.whl (18 MB)", "Loading"),
    ],
)
def test_lines_of_pip_become_stages(line: str, stage: str) -> None:
    assert bootstrap.stage_now("Loading", f"first\n{line}\n").startswith(stage)


def test_step_tells_its_stages_and_keeps_its_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(bootstrap, "ROOT", str(tmp_path))
    monkeypatch.setattr(bootstrap, "LOG", str(tmp_path / "setup.log"))
    # The step goes on only after its line was told.
    told = "import pathlib, time; print('Installing collected packages: a, b', flush=True)\n"
    told += "while not pathlib.Path('go').exists(): time.sleep(0.01)"
    say = bootstrap.say

    def say_and_let_go(text: str) -> None:
        say(text)
        if "Unpacking" in text:
            (tmp_path / "go").touch()

    monkeypatch.setattr(bootstrap, "say", say_and_let_go)
    bootstrap.run_logged("Loading packages", [sys.executable, "-c", told])
    assert capsys.readouterr().err == "  Loading packages\n  Unpacking 2 packages\n"
    with pytest.raises(bootstrap.Trouble, match="the disk is full"):
        bootstrap.run_logged("Loading packages", [sys.executable, "-c", "raise SystemExit('Errno 28')"])
    log = (tmp_path / "setup.log").read_text(encoding="utf-8").splitlines()
    assert log == ["Installing collected packages: a, b", "Errno 28"]


@pytest.mark.parametrize(("fault", "code"), [(KeyboardInterrupt(), 130), (OSError(28, "No space left on device"), 2)])
def test_no_traceback_reaches_the_user(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], fault: BaseException, code: int
) -> None:
    def fail(arguments: list[str]) -> int:
        raise fault

    monkeypatch.setattr(bootstrap, "run", fail)
    assert bootstrap.main(["plan"]) == code
    assert "Traceback" not in capsys.readouterr().err


# --- the script as it is called


def test_module_beside_the_script_shadows_no_standard_one(tmp_path: Path) -> None:
    (tmp_path / "pipeline").mkdir()
    (tmp_path / "pipeline" / "json.py").write_text("raise SystemExit('shadowed')\n", encoding="utf-8")
    script = tmp_path / "pipeline" / "bootstrap.py"
    script.write_text(SCRIPT.read_text(encoding="utf-8"), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(script), "test", "--help"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (0, "")
    assert "--no-system-packages" in done.stderr
    assert not (tmp_path / ".venv").exists()


@pytest.mark.parametrize("command", sorted(bootstrap.CHECKS))
def test_contributors_commands_are_modules_of_the_tests(monkeypatch: pytest.MonkeyPatch, command: str) -> None:
    ran: list[list[str]] = []
    monkeypatch.setattr(bootstrap, "prepare", lambda request: None)
    monkeypatch.setattr(bootstrap.subprocess, "call", lambda command, **_: ran.append(command) or 5)
    assert bootstrap.run([command, "-k", "moon"]) == 5
    (words,) = ran
    assert words[1:] == ["-m", bootstrap.CHECKS[command], "-k", "moon"]
    assert importlib.util.find_spec(words[2])


@pytest.mark.parametrize(("codes", "outcome"), [([0, 0, 0], 0), ([1, 0, 0], 1), ([0, 2, 0], 1), ([0, 0, 5], 5)])
def test_test_command_fails_with_any_of_its_tools(
    monkeypatch: pytest.MonkeyPatch, codes: list[int], outcome: int
) -> None:
    ran: list[list[str]] = []
    results = iter(codes)

    def call(command: list[str], **_: object) -> int:
        ran.append(command[2:])
        return next(results)

    monkeypatch.setattr(checks.subprocess, "call", call)
    assert checks.main(["-k", "moon"]) == outcome
    assert ran == [["ruff", "check", "."], ["mypy"], ["pytest", "-n", "auto", "-k", "moon"]]
