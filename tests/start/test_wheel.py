"""The built wheel carries all that the program reads, and works from any folder."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

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


@pytest.mark.slow
def test_wheel_plans_the_demo_from_any_folder(wheel: Path, tmp_path: Path) -> None:
    target, elsewhere = tmp_path / "target", tmp_path / "elsewhere"
    elsewhere.mkdir()
    run("-m", "pip", "install", "--quiet", "--no-deps", "--no-index", "--target", str(target), str(wheel))
    out = tmp_path / "out"
    environment = {**os.environ, "PYTHONPATH": str(target)}
    source = run("-c", "import pipeline; print(pipeline.__file__)", cwd=elsewhere, env=environment).stdout
    assert Path(source.strip()).is_relative_to(target)
    words = ("-m", "pipeline", "plan", "--demo", "--no-pdf", "--out", str(out))
    run(*words, cwd=elsewhere, env=environment)
    assert list(out.rglob("data/windows.csv"))
