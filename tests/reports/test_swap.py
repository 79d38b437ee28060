"""The swap of folders: whatever step a run is cut at, the next one finds either the old folder whole or the new one."""

from pathlib import Path

import pytest

from pipeline.reports import writing
from pipeline.reports.writing import OutputBlocked, repair, swapped_folder


def fill(folder: Path, text: str) -> Path:
    folder.mkdir(parents=True)
    (folder / "calendar.pdf").write_text(text)
    return folder


def standing(folder: Path) -> str:
    """What the folder holds, and that nothing is left beside it."""
    assert [path.name for path in folder.parent.iterdir()] == [folder.name]
    return (folder / "calendar.pdf").read_text()


def test_the_new_folder_takes_the_old_ones_place(tmp_path: Path) -> None:
    target = fill(tmp_path / "out" / "calendar", "old")
    (target / "gone.txt").write_text("of the old run")
    with swapped_folder(target) as new:
        (new / "calendar.pdf").write_text("new")
        assert (target / "calendar.pdf").read_text() == "old"
    assert standing(target) == "new"
    assert not (target / "gone.txt").exists()


def test_a_first_run_needs_no_old_folder(tmp_path: Path) -> None:
    with swapped_folder(tmp_path / "out" / "calendar") as new:
        (new / "calendar.pdf").write_text("new")
    assert standing(tmp_path / "out" / "calendar") == "new"


def test_an_error_while_writing_leaves_the_old_folder(tmp_path: Path) -> None:
    target = fill(tmp_path / "out" / "calendar", "old")

    def interrupted() -> None:
        with swapped_folder(target) as new:
            (new / "calendar.pdf").write_text("half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert standing(target) == "old"


@pytest.mark.parametrize(
    ("left", "stands"),
    [
        (("", "new"), "old"),  # cut while writing: the new one may be half
        (("new", "old"), "new"),  # cut between the two moves: the new one was complete
        (("", "old"), "plain"),  # cut while removing the old one: the new one stands already
        (("old",), "old"),  # the old one moved away and the new one lost
        (("", "new", "old"), "plain"),  # an old one that could not be removed, then cut while writing
    ],
)
def test_every_cut_is_repaired(tmp_path: Path, left: tuple[str, ...], stands: str) -> None:
    target = tmp_path / "out" / "calendar"
    for ending in left:
        fill(target if not ending else target.with_name(f"calendar.{ending}"), ending or "plain")
    if left == ("", "new"):
        (target / "calendar.pdf").write_text("old")
    repair(target)
    assert standing(target) == stands


def test_a_process_cut_at_each_move_is_repaired(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Dies for real at the first and at the second move and after both."""
    real = Path.rename
    for step, after in ((1, "old"), (2, "new"), (3, "new")):
        target = fill(tmp_path / str(step) / "calendar", "old")
        count = 0

        def dying(self: Path, other: Path, step: int = step) -> Path:
            nonlocal count
            count += 1
            if count == step:
                raise SystemExit
            return real(self, other)

        monkeypatch.setattr(Path, "rename", dying)
        if step == 3:
            monkeypatch.setattr(writing.shutil, "rmtree", lambda *a, **k: (_ for _ in ()).throw(SystemExit))
        with pytest.raises(SystemExit), swapped_folder(target) as new:
            (new / "calendar.pdf").write_text("new")
        monkeypatch.undo()
        repair(target)
        assert standing(target) == after


@pytest.mark.parametrize("step", [1, 2])
def test_a_folder_held_open_loses_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: int) -> None:
    """As Windows does while a viewer holds a file of the folder."""
    target = fill(tmp_path / "out" / "calendar", "old")
    real, count = Path.rename, 0

    def held(self: Path, other: Path) -> Path:
        nonlocal count
        count += 1
        if count == step:
            raise PermissionError(13, "held by another process")
        return real(self, other)

    monkeypatch.setattr(Path, "rename", held)
    with pytest.raises(OutputBlocked, match=r"close calendar\.pdf and run again"), swapped_folder(target) as new:
        (new / "calendar.pdf").write_text("new")
    assert standing(target) == "old"
