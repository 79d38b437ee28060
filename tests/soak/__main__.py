"""The long attacks: `python3 pipeline/bootstrap.py soak [readers COUNT] [kills COUNT]`; without words both in full.

`readers`: COUNT spoiled files for every reader (20,000). `kills`: writing commands ended at COUNT random moments (200).
"""

from __future__ import annotations

import multiprocessing
import sys
from itertools import pairwise

from tests.hostile.desks import DESKS
from tests.soak.kills import kill_commands
from tests.soak.readers import attack

READERS, KILLS = 20_000, 200


def readers(count: int) -> int:
    """A line a reader; the number of files that were not taken or refused as they should be."""
    print(f"{'reader':14} {'files':>7} {'refused':>8} {'worst ms':>9} {'grown MB':>9}  faults", flush=True)
    faults = 0
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        for row in pool.imap(attack, [(index, count) for index in range(len(DESKS))]):
            print(
                f"{row.name:14} {row.files:7} {row.refused:8} {row.worst_ms:9.0f} {row.grown_mb:9.1f}  {row.told}",
                flush=True,
            )
            faults += row.faults
    return faults


def main(arguments: list[str]) -> int:
    """0 where nothing was found."""
    counts = {"readers": READERS, "kills": KILLS}
    wanted = [word for word in arguments if word in counts] or list(counts)
    given = {word: int(count) for word, count in pairwise(arguments) if count.isdecimal()}
    faults = 0
    if "readers" in wanted:
        faults += readers(given.get("readers", READERS))
    if "kills" in wanted:
        faults += kill_commands(given.get("kills", KILLS))
    print("nothing found" if not faults else f"{faults} faults found")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
