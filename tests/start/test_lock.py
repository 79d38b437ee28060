"""The lock: every package of pyproject.toml, each with its hash, for every system, and no address in it."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from pipeline import bootstrap
from tests import lock

ROOT = Path(bootstrap.ROOT)
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
NEEDED = [*PROJECT["project"]["dependencies"], *PROJECT["dependency-groups"]["setup"]]
EXTRAS = [words for extra in PROJECT["project"]["optional-dependencies"].values() for words in extra]
BEHIND = "the lock is behind pyproject.toml: type `python3 pipeline/bootstrap.py lock`"
# The systems that the program is for, as the markers of PEP 508 name them.
SYSTEMS = [
    {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix"},
    {"sys_platform": "win32", "platform_system": "Windows", "os_name": "nt"},
    {"sys_platform": "darwin", "platform_system": "Darwin", "os_name": "posix"},
]


def text(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def pinned(name: str, system: dict[str, str]) -> dict[str, list[str]]:
    """The versions of each package that the list `name` gives to a system."""
    found: dict[str, list[str]] = {}
    for line in re.findall(r"^(\S.*?) \\$", text(name), re.MULTILINE):
        requirement = Requirement(line)
        if requirement.marker is None or requirement.marker.evaluate(system):
            (version,) = requirement.specifier
            assert version.operator == "=="
            found.setdefault(canonicalize_name(requirement.name), []).append(version.version)
    return found


@pytest.mark.parametrize("name", [bootstrap.RUN_PACKAGES, bootstrap.TEST_PACKAGES])
def test_every_line_is_a_version_or_its_hash(name: str) -> None:
    lines = text(name).splitlines()
    version, hashed = r"[a-z0-9-]+==[^ ]+( ; .*)? \\", r"    --hash=sha256:[0-9a-f]{64}( \\)?"
    assert not [line for line in lines if not re.fullmatch(f"{version}|{hashed}", line)]
    # A version without a hash behind it would let pip refuse the whole list.
    assert not re.search(r"^\S.*\n(\S|$)", text(name), re.MULTILINE)


@pytest.mark.parametrize("system", SYSTEMS, ids=lambda system: system["sys_platform"])
@pytest.mark.parametrize("python", ["3.11", "3.12", "3.13", "3.14", "3.15"])
@pytest.mark.parametrize(
    ("name", "needed"), [(bootstrap.RUN_PACKAGES, NEEDED), (bootstrap.TEST_PACKAGES, [*NEEDED, *EXTRAS])]
)
def test_lock_holds_what_pyproject_asks_for(name: str, needed: list[str], python: str, system: dict[str, str]) -> None:
    asked = {**system, "python_version": python, "python_full_version": f"{python}.0"}
    asked |= {"implementation_name": "cpython", "platform_python_implementation": "CPython"}
    found = pinned(name, asked)
    for words in needed:
        requirement = Requirement(words)
        if requirement.marker and not Marker(str(requirement.marker)).evaluate(asked):
            continue
        versions = found.get(canonicalize_name(requirement.name), [])
        assert len(versions) == 1, f"{words}: {BEHIND}"
        assert requirement.specifier.contains(versions[0], prereleases=True), f"{words}: {BEHIND}"


def test_program_and_tests_have_the_same_versions() -> None:
    program, everything = (
        set(re.findall(r"^\S+==\S+", text(name), re.MULTILINE))
        for name in (bootstrap.RUN_PACKAGES, bootstrap.TEST_PACKAGES)
    )
    assert program < everything


def test_lock_is_written_where_bootstrap_reads_it() -> None:
    assert (lock.TESTS.as_posix(), lock.RUN.as_posix()) == (bootstrap.TEST_PACKAGES, bootstrap.RUN_PACKAGES)
    everything, program = lock.commands(["--upgrade"])
    assert {"--universal", "--generate-hashes", "--no-emit-index-url", "--no-python-downloads"} <= set(everything)
    assert everything[everything.index("--python-version") + 1] == "3.11"
    assert "--upgrade" in program
    assert "--all-extras" not in program
