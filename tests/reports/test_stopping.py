"""Nothing is left running, and no traceback is shown, when a run is stopped or killed while pages are made."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

# A parent that hands a page to a process of its own, which says its number and then waits for ever.
PARENT = textwrap.dedent(
    """
    import multiprocessing, os, pathlib, sys, time
    from concurrent.futures import ProcessPoolExecutor
    from pipeline.reports.rendering import end_with_parent

    def wait(_):
        print(os.getpid(), flush=True)
        time.sleep(600)

    if __name__ == "__main__":
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(1, mp_context=context, initializer=end_with_parent) as pool:
            list(pool.map(wait, [0]))
    """
)


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_a_process_whose_parent_is_killed_ends_by_itself(tmp_path: Path) -> None:
    script = tmp_path / "parent.py"
    script.write_text(PARENT, encoding="utf-8")
    with subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout is not None
        assert int(parent.stdout.readline()) != parent.pid
        parent.kill()
        # The child holds the other end of the pipe, which comes to its end only when the child has ended too.
        assert parent.stdout.read() == ""


def test_a_stop_while_libraries_load_is_one_line() -> None:
    """A module of ours raises what Ctrl-C raises: the same as a signal at that instant, without a clock."""
    program = textwrap.dedent(
        """
        import builtins, sys
        real = builtins.__import__

        def stopped(name, *rest):
            if name == "pipeline.cli":
                raise KeyboardInterrupt
            return real(name, *rest)

        builtins.__import__ = stopped
        from pipeline.__main__ import main
        main()
        """
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "stopped\n")
