"""Nothing is left running, and no traceback is shown, when a run is stopped or killed while pages are made."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import textwrap
import time
from pathlib import Path

import pytest

from pipeline.reports import browser

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


@pytest.mark.skipif(os.name == "nt", reason="signals and named pipes of POSIX")
@pytest.mark.parametrize(
    ("way", "pages", "end"),
    [
        ("browser", 1, signal.SIGINT),
        ("browser", 1, signal.SIGKILL),
        ("browser", 2, signal.SIGINT),
        ("weasyprint", 1, signal.SIGINT),
        ("weasyprint", 2, signal.SIGINT),
    ],
)
def test_nothing_is_left_of_a_run_that_makes_pages(way: str, pages: int, end: signal.Signals, tmp_path: Path) -> None:
    """Not a browser, not one of our own processes, not a folder; and one line where somebody is there to read it."""
    (tmp_path / "temporary").mkdir()
    os.mkfifo(tmp_path / "alive")
    environment = dict(os.environ, STALL_WAY=way, STALL_FOLDER=str(tmp_path))
    with subprocess.Popen(
        [sys.executable, "-m", "tests.reports.stalls", "stall", str(pages)],
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    ) as run:
        with (tmp_path / "alive").open(encoding="utf-8") as alive:
            for _ in range(pages):
                assert alive.readline() == "here\n"
            if end == signal.SIGINT:
                # As a terminal does it: to the whole group.
                os.killpg(run.pid, end)
            else:
                run.kill()
            # It ends when the last process that holds its other end has ended.
            assert alive.read() == ""
        out, err = run.communicate()
    if end == signal.SIGINT:
        assert (run.returncode, out, err) == (130, "", "stopped\n")
    for _ in range(300):
        if not list((tmp_path / "temporary").iterdir()):
            return
        time.sleep(0.1)
    pytest.fail("a temporary folder stays")


def test_a_folder_left_behind_is_swept_by_the_next_print(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    names = [f"{browser.PREFIX}old", f"{browser.PREFIX}of-a-run-beside", "of-another-program"]
    for name in names:
        (tmp_path / name).mkdir()
    before = (tmp_path / names[1]).stat().st_mtime - browser.STALE_S - 60
    for name in (names[0], names[2]):
        os.utime(tmp_path / name, (before, before))
    with pytest.raises(browser.BrowserFailed, match="does not start"):
        browser.print_page("<h1>a</h1>", tmp_path / "no-program")
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(names[1:])


def test_fonts_of_pages_go_with_the_run(tmp_path: Path) -> None:
    """The engine's folder of fonts goes before its library is taken apart, though nothing is looked through then."""
    pytest.importorskip("weasyprint")
    program = textwrap.dedent(
        """
        import gc, pathlib, sys
        from weasyprint import CSS
        from pipeline.reports import pdf
        from pipeline.reports.fonts import faces_by_file
        CSS(string=faces_by_file(), font_config=pdf._font_configuration())
        print(len(list(pathlib.Path(sys.argv[1]).iterdir())))
        gc.freeze()
        """
    )
    environment = dict(os.environ, TMPDIR=str(tmp_path))
    done = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path)], capture_output=True, text=True, check=False, env=environment
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "1\n", "")
    assert not list(tmp_path.iterdir())
