"""Where the season is: the file that was named or is usual, near names of it, and what to type where there is none."""

from __future__ import annotations

from pathlib import Path

from pipeline.wording.pasted import pasted

NAMES = ("season.yaml", "season.yml")


def season_found(path: Path) -> Path:
    """The season file that is meant: that of a folder, or the one whose ending is spelled otherwise."""
    if path.is_dir():
        named = [path / name for name in NAMES if (path / name).is_file()]
        return named[0] if named else path / NAMES[0]
    if path.is_file():
        return path
    twin = path.with_suffix({".yaml": ".yml", ".yml": ".yaml"}.get(path.suffix.lower(), ".yaml"))
    return twin if twin.is_file() else path


def no_season_words(season: Path, is_usual: bool, typed: str, words: str) -> str:
    """Why there is no season file and what to do; `typed` is how the user starts this program, with these words."""
    from pipeline.inputs.near_names import unread_files

    if is_usual and (beside := next((name for name in NAMES if Path(name).is_file()), None)):
        return f"there is no {season} here, but a {beside}; run it one folder up, or: {typed} {words} --season {beside}"
    for one in unread_files(season.parent):
        if one.kind == "home":
            return f"{season}: no such season file, but {one.path.name} is one: {one.advice}"
    near = _seasons_in(season.parent) or _seasons_below(Path() if is_usual else season.parent)
    if near and all(one.name == season.name for one in near):
        return f"there is no {season} here; it lies in {near[0].parent}: write --season {pasted(near[0])}"
    if near:
        names = " or ".join(f"--season {pasted(path)}" for path in near[:3])
        return f"{season}: no such season file; there is one of another name: {names}"
    if not is_usual and not season.parent.is_dir():
        return f"{season}: no such season file, for there is no folder {season.parent}; {_first_steps(typed)}"
    return f"{season}: no such season file; {_first_steps(typed)}"


def _first_steps(typed: str) -> str:
    return (
        f"{typed} new FOLDER lays one out, {typed} plan --demo plans the invented season, --season FILE names another"
    )


def _seasons_in(folder: Path) -> list[Path]:
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.reading import folder_files
    from pipeline.inputs.yaml_tree import load_tree, read_bytes

    found = []
    try:
        for path in folder_files(folder):
            try:
                if "home" in load_tree(read_bytes(path), path.name).data:
                    found.append(path)
            except InputFaults:
                continue
    except InputFaults:
        return []
    return found


def _seasons_below(folder: Path) -> list[Path]:
    """The usual season file in each folder of a folder."""
    try:
        return [path / name for path in sorted(folder.iterdir()) for name in NAMES if (path / name).is_file()]
    except OSError:
        return []
