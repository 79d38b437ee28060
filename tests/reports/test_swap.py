"""The swap of folders: whatever step a run is cut at, the next one finds either the old folder whole or the new one."""

from pathlib import Path

import pytest

from pipeline.reports import writing
from pipeline.reports.blocked import OutputBlocked
from pipeline.reports.writing import Room, repair, repair_period, swapped_folder, write_rooms


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


def test_what_people_keep_in_a_folder_goes_into_its_successor(tmp_path: Path) -> None:
    """Recordings are not copied but keep their place on the disk; what was saved at the last moment counts."""
    night = tmp_path / "out" / "2027-03" / "nights" / "2027-03-13"
    (night / "photos").mkdir(parents=True)
    (night / "photos" / "dish.jpg").write_bytes(b"dish")
    (night / "echo.wav").write_bytes(b"echo")
    (night / "log.csv").write_bytes(b"typed")
    (night / "sheets.pdf").write_bytes(b"old")
    place = (night / "echo.wav").stat().st_ino

    def merge(standing: Path) -> dict[str, bytes]:
        return {"log.csv": (standing / "log.csv").read_bytes() + b" and kept"}

    own = frozenset({"sheets.html", "sheets.pdf", "log.csv"})
    room = Room("nights/2027-03-13", {"sheets.html": b"new", "log.csv": b""}, {}, own, merge)
    write_rooms([room], tmp_path / "out" / "2027-03")
    left = {path.relative_to(night).as_posix(): path.read_bytes() for path in night.rglob("*") if path.is_file()}
    kept = {"photos/dish.jpg": b"dish", "echo.wav": b"echo"}
    assert left == kept | {"sheets.html": b"new", "log.csv": b"typed and kept"}
    assert (night / "echo.wav").stat().st_ino == place
    assert [path.name for path in night.parent.iterdir()] == [night.name]


def test_what_a_cut_run_left_of_other_rooms_is_put_in_order(tmp_path: Path) -> None:
    """A night that the new plan does not have; the user's own `notes.old` is none of ours."""
    for name in ("nights/2027-03-13.old", "nights/2027-03-13.new", "nights/2027-03-14.old", "letters.new", "notes.old"):
        fill(tmp_path / name, name)
    repair_period(tmp_path)
    assert {path.name for path in tmp_path.rglob("*") if path.is_dir()} == {
        "nights", "2027-03-13", "2027-03-14", "notes.old",
    }  # fmt: skip
    assert (tmp_path / "nights/2027-03-13/calendar.pdf").read_text() == "nights/2027-03-13.new"


def test_a_file_in_the_folders_place_is_left(tmp_path: Path) -> None:
    (tmp_path / "calendar").write_text("mine")
    with (
        pytest.raises(OutputBlocked, match="calendar is a file where a folder is meant"),
        swapped_folder(tmp_path / "calendar"),
    ):
        pass
    assert (tmp_path / "calendar").read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["calendar"]
