"""What Windows takes for a file's name and how long a path may be, so that it holds where no Windows is at hand.

Rules: Microsoft, "Naming Files, Paths, and Namespaces" and "Maximum Path Length Limitation" (from memory); the names of
devices by Python's own table of them.
"""

from __future__ import annotations

import ntpath
from collections import Counter
from pathlib import Path, PureWindowsPath

# `C:\Users\firstname.lastname\Documents\moonbounce` and some room, of 260 with the closing zero.
FOLDER, LONGEST = 60, 259
# A folder is filled beside its place, and a period may be named by two dates where the demo's is a month.
BESIDE, LONGER_PERIOD, LONGEST_CALL = len(".new"), len("2027-03-05_2027-04-02") - len("2027-03"), 20
FORBIDDEN = set('<>:"|?*\\') | set(map(chr, range(32)))


def is_device(name: str) -> bool:
    if hasattr(ntpath, "isreserved"):
        return bool(ntpath.isreserved(name))
    return PureWindowsPath(name).is_reserved()


def faults(root: Path) -> list[str]:
    """What Windows would not take of the files under a folder that stands in one of FOLDER letters."""
    found = []
    paths = sorted(path.relative_to(root.parent) for path in root.rglob("*"))
    for path in paths:
        name = path.name
        if is_device(name) or set(name) & FORBIDDEN or name != name.rstrip(". ") or not name.isascii():
            found.append(f"{path}: the name")
        if (root.parent / path).is_symlink():
            found.append(f"{path}: a symbolic link")
        call = path.parts[3] if len(path.parts) > 3 and path.parts[2] == "letters" else "x" * LONGEST_CALL
        length = FOLDER + 1 + len(str(path)) + BESIDE + LONGER_PERIOD + LONGEST_CALL - len(call)
        if length > LONGEST:
            found.append(f"{path}: {length} letters")
    same = Counter(str(path).casefold() for path in paths)
    return found + [f"{path}: twice but for its case" for path, times in same.items() if times > 1]
