"""The built wheel carries all that the program reads, and works from any folder."""

import os
import re
import subprocess
import sys
import tarfile
import zipfile
from importlib import metadata
from pathlib import Path

import pytest
from packaging.utils import canonicalize_name

from pipeline import bootstrap

ROOT = Path(__file__).resolve().parents[2]


def run(*words: str, **settings: object) -> subprocess.CompletedProcess[str]:
    done = subprocess.run([sys.executable, *words], capture_output=True, text=True, check=False, **settings)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return done


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    # --no-isolation takes the build tool that is installed with the tests: nothing is fetched.
    folder = tmp_path_factory.mktemp("wheel")
    run("-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT))
    return next(folder.glob("*.whl"))


@pytest.mark.slow
def test_wheel_carries_templates_demo_and_data(wheel: Path) -> None:
    carried = set(zipfile.ZipFile(wheel).namelist())
    for inside, outside in (("templates", "templates"), ("demo", "stations"), ("data", "pipeline/data")):
        files = [path for path in (ROOT / outside).rglob("*") if path.is_file() and "__pycache__" not in path.parts]
        wanted = {
            f"pipeline/{inside}/{path.relative_to(ROOT / outside).as_posix()}"
            for path in files
            if "record" not in path.relative_to(ROOT).parts
        }
        assert wanted, f"no files in {outside}"
        assert wanted <= carried
    assert "pipeline/demo/season.yaml" in carried
    # It serves a checkout, and no sentence of the installed program may name it.
    assert "pipeline/bootstrap.py" not in carried


@pytest.mark.slow
def test_sdist_starts_as_a_checkout_does(tmp_path: Path) -> None:
    run("-m", "build", "--sdist", "--no-isolation", "--outdir", str(tmp_path), str(ROOT))
    with tarfile.open(next(tmp_path.glob("*.tar.gz"))) as packed:
        carried = {name.partition("/")[2] for name in packed.getnames()}
    assert {"pipeline/bootstrap.py", bootstrap.RUN_PACKAGES, bootstrap.TEST_PACKAGES, "pyproject.toml"} <= carried
    assert not [name for name in carried if name.startswith("stations/record")]


def test_disk_is_as_the_readme_says() -> None:
    # What pip laid down for the program's packages, compiled files included; 450 to 480 MB measured.
    claimed = re.search(r"with (\d+) MB of disk", (ROOT / "README.md").read_text(encoding="utf-8"))
    names = set(
        re.findall(r"^([a-z0-9-]+)==", (ROOT / bootstrap.RUN_PACKAGES).read_text(encoding="utf-8"), re.MULTILINE)
    )
    held = [found for found in metadata.distributions() if canonicalize_name(found.metadata["Name"]) in names]
    paths = {Path(str(found.locate_file(file))) for found in held for file in found.files or ()}
    size = sum(path.stat().st_size for path in paths if path.is_file())
    assert claimed
    assert len(held) >= len(names) - 3
    assert 0.5 * int(claimed[1]) < size / 1e6 < int(claimed[1])


@pytest.mark.slow
def test_wheel_plans_the_demo_from_any_folder(wheel: Path, tmp_path: Path) -> None:
    target, elsewhere = tmp_path / "Größe und Maß 月" / "target", tmp_path / "Größe und Maß 月" / "elsewhere"
    elsewhere.mkdir(parents=True)
    run("-m", "pip", "install", "--quiet", "--no-deps", "--no-index", "--target", str(target), str(wheel))
    out = elsewhere / "out"
    environment = {**os.environ, "PYTHONPATH": str(target)}
    source = run("-c", "import pipeline; print(pipeline.__file__)", cwd=elsewhere, env=environment).stdout
    assert Path(source.strip()).is_relative_to(target)
    words = ("-m", "pipeline", "plan", "--demo", "--no-pdf", "--out", str(out))
    run(*words, cwd=elsewhere, env=environment)
    assert list(out.rglob("data/windows.csv"))
