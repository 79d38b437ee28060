"""The fresh-machine start: old interpreters, the stamp of a finished set-up, and what is said where something lacks."""

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline import bootstrap

SCRIPT = Path(bootstrap.__file__)
DEBIAN = 'PRETTY_NAME="Debian GNU/Linux 12 (bookworm)"\nID=debian\nVERSION_ID="12"\n'
UBUNTU = 'ID=ubuntu\nID_LIKE=debian\nNAME="Ubuntu"\n'
MINT = "ID=linuxmint\nID_LIKE='ubuntu debian'\n"
FEDORA = 'ID=fedora\nNAME="Fedora Linux"\n'
ROCKY = 'ID="rocky"\nID_LIKE="rhel centos fedora"\n'
TUMBLEWEED = 'ID="opensuse-tumbleweed"\nID_LIKE="opensuse suse"\n'


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
    ("words", "needed"),
    [
        (["plan"], True),
        (["test", "-k", "moon"], True),
        (["night", "2027-03-04"], True),
        (["plan", "--no-pdf"], False),
        (["plan", "--help"], False),
        (["plan", "-h"], False),
        (["check"], False),
        (["--help"], False),
        ([], False),
    ],
)
def test_pango_is_asked_for_by_commands_that_render(words: list[str], needed: bool) -> None:
    assert request(*words).needs_pango is needed


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


def test_moved_folder_is_noticed(folder: Path) -> None:
    assert reason(folder.rename(folder.with_name("elsewhere"))) == "this folder was moved or copied"


def test_other_python_is_noticed(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 99, 0, "final", 0))
    assert reason(folder) == "the last one was for another Python"


def test_tests_need_more_packages_once(folder: Path) -> None:
    assert reason(folder, tests=True) == bootstrap.MORE_PACKAGES
    stamp = bootstrap.wanted_stamp(str(folder), True)
    (folder / ".venv" / "setup.json").write_text(json.dumps(stamp), encoding="utf-8")
    assert reason(folder, tests=True) == ""
    assert reason(folder) == ""


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
    return ran


def test_nothing_runs_when_all_is_there(setting: list[list[str]]) -> None:
    bootstrap.prepare(request("plan"))
    assert setting == []


def test_interrupted_set_up_is_made_anew(setting: list[list[str]], folder: Path) -> None:
    (folder / ".venv" / "setup.json").unlink()
    (folder / ".venv" / "lib").mkdir()
    (folder / ".venv" / "lib" / "half.py").touch()
    bootstrap.prepare(request("plan"))
    assert [command[2:4] for command in setting] == [["-m", "venv"], ["-m", "pip"]]
    assert setting[1][-2:] == ["--editable", "."]
    assert not (folder / ".venv" / "lib").exists()
    assert reason(folder) == ""


def test_packages_for_tests_come_on_top_and_stay(setting: list[list[str]], folder: Path) -> None:
    bootstrap.prepare(request("test"))
    assert [command[2:4] for command in setting] == [["-m", "pip"]]
    (folder / "pyproject.toml").write_text("[project]\nversion = '2'\n", encoding="utf-8")
    bootstrap.prepare(request("plan"))
    assert [command[-1] for command in setting if "pip" in command] == [".[test]", ".[test]"]


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


def test_missing_ensurepip_names_the_package_and_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bootstrap.importlib.util, "find_spec", lambda name: None)
    monkeypatch.setattr(bootstrap, "sudo", lambda: "sudo ")
    with pytest.raises(bootstrap.Trouble, match="`sudo apt-get install -y python3-venv`"):
        bootstrap.ensure_ensurepip(request("plan"))


@pytest.mark.parametrize(
    ("release", "command"),
    # The packages that WeasyPrint's "First steps" page names for each system.
    [
        (DEBIAN, "sudo apt-get install -y libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"),
        (UBUNTU, "sudo apt-get install -y libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"),
        (MINT, "sudo apt-get install -y libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"),
        (FEDORA, "sudo dnf install -y pango"),
        (ROCKY, "sudo dnf install -y pango"),
        ("ID=arch\n", "sudo pacman -S --noconfirm pango"),
        ("ID=alpine\n", "so:libpangoft2-1.0.so.0"),
        (TUMBLEWEED, "sudo zypper install -y libpango-1_0-0"),
        ("ID=nixos\n", "install Pango 1.44 or newer"),
    ],
)
def test_one_command_brings_pango_to_this_linux(tmp_path: Path, release: str, command: str) -> None:
    path = tmp_path / "os-release"
    path.write_text(release, encoding="utf-8")
    said = bootstrap.pango_sentence("linux", bootstrap.system_names(str(path)), "sudo ")
    assert command in said
    assert "--no-pdf" in said
    assert said.count("install") <= 1 or "alpine" not in release


def test_root_types_no_sudo() -> None:
    assert "sudo" not in bootstrap.pango_sentence("linux", ["debian"], "")


def test_mac_and_windows_have_their_own_command() -> None:
    assert "\n  brew install pango\n" in bootstrap.pango_sentence("darwin", [], "sudo ")
    said = bootstrap.pango_sentence("win32", [], "sudo ")
    assert "mingw-w64-ucrt-x86_64-pango" in said
    assert "sudo" not in said
    assert "{" not in said


def test_missing_os_release_means_no_names(tmp_path: Path) -> None:
    assert bootstrap.system_names(str(tmp_path / "none")) == []


@pytest.mark.parametrize(
    ("words", "prefix", "release"),
    [(["plan", "--no-system-packages"], "", DEBIAN), (["plan"], "sudo ", DEBIAN), (["plan"], "", FEDORA)],
)
def test_system_packages_are_installed_as_root_on_debian_alone(
    monkeypatch: pytest.MonkeyPatch, words: list[str], prefix: str, release: str
) -> None:
    names = release.replace("ID=", "").split("\n")
    monkeypatch.setattr(bootstrap, "system_names", lambda: names)
    monkeypatch.setattr(bootstrap, "sudo", lambda: prefix)
    monkeypatch.setattr(bootstrap.shutil, "which", lambda name: "/usr/bin/" + name)
    monkeypatch.setattr(bootstrap, "run_logged", lambda *_: pytest.fail("ran the package manager"))
    bootstrap.install_debian_packages("anything", request(*words))


def test_missing_pango_is_installed_once_and_remembered(
    setting: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter([False, True])
    monkeypatch.setattr(bootstrap, "pango_loads", lambda: next(answers))
    monkeypatch.setattr(bootstrap, "system_names", lambda: ["debian"])
    monkeypatch.setattr(bootstrap, "sudo", lambda: "")
    monkeypatch.setattr(bootstrap.shutil, "which", lambda name: "/usr/bin/" + name)
    bootstrap.ensure_pango(request("plan"))
    assert [command[:2] for command in setting] == [["apt-get", "update"], ["apt-get", "install"]]
    bootstrap.ensure_pango(request("plan"))


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device", "the disk is full"),
        ("WARNING: Retrying: NewConnectionError('Failed to establish a new connection')", "network does not answer"),
        ("[Errno 13] Permission denied: '.venv/setup.lock'", "a file is not yours or in use"),
        ("ERROR: No matching distribution found for thing", "its last lines say why"),
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
        ("Collecting numpy>=1.26 (from mutual-moon==0.1.0)", "Loading packages"),
        ("Installing collected packages: a, b, c", "Unpacking 3 packages"),
        ("WARNING: Retrying (Retry(total=4, connect=None)) after connection broken", "The network does not answer yet"),
        ("  Downloading numpy.whl (18 MB)", ""),
    ],
)
def test_lines_of_pip_become_stages(line: str, stage: str) -> None:
    assert bootstrap.pip_stage(line).startswith(stage)
    assert bool(bootstrap.pip_stage(line)) is bool(stage)


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


@pytest.mark.parametrize(("codes", "outcome"), [([0, 0, 0], 0), ([1, 0, 0], 1), ([0, 2, 0], 1), ([0, 0, 5], 5)])
def test_test_command_fails_with_any_of_its_tools(
    monkeypatch: pytest.MonkeyPatch, codes: list[int], outcome: int
) -> None:
    ran: list[list[str]] = []
    results = iter(codes)

    def call(command: list[str], **_: object) -> int:
        ran.append(command[2:])
        return next(results)

    monkeypatch.setattr(bootstrap.subprocess, "call", call)
    assert bootstrap.run_checks("test", ["-k", "moon"]) == outcome
    assert ran == [["ruff", "check", "."], ["mypy"], ["pytest", "-n", "auto", "-k", "moon"]]
