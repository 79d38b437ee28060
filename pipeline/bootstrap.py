"""Starts Mutual Moon on a fresh machine: makes .venv of the locked packages, then runs `mutual-moon` in it.

Of its own it knows `test [PYTEST ARGUMENTS]`, `bench`, `soak`, `lock`, `fresh` (contributors': they stand in tests/)
and `--no-system-packages` (no apt-get). Standard library alone, and it parses on Python 3.6, so that an old
interpreter gets a sentence and no syntax error.
"""
# ruff: noqa: E402 (the path comes before the imports that it serves)
import os
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
if __name__ == "__main__":
    # A script's own folder comes first on the path, where a module of ours would shadow a standard one.
    sys.path[:] = [entry for entry in sys.path if os.path.abspath(entry) != HERE]

import contextlib
import glob
import hashlib
import importlib.util
import json
import re
import shlex
import shutil
import subprocess
import time
from typing import Dict, List, NamedTuple, Sequence, Tuple

ROOT = os.path.dirname(HERE)
VENV = os.path.join(ROOT, ".venv")
PYTHON = os.path.join(VENV, "Scripts", "python.exe") if os.name == "nt" else os.path.join(VENV, "bin", "python")
LOG = os.path.join(VENV, "setup.log")
STAMP, LOCK = "setup.json", "setup.lock"
# Every package with its hash: what the program needs, and that with all extras and the tools of the tests.
RUN_PACKAGES, TEST_PACKAGES = ".lock/run.txt", ".lock/tests.txt"
CHECKS = {"test": "tests", "bench": "tests.bench", "soak": "tests.soak", "lock": "tests.lock", "fresh": "tests.fresh"}
# These read the season and take no path of their own, so they may move to the project folder.
SEASON_COMMANDS = ("plan", "check", "explain", "year", "letters", "send", "night", "answer")
GET_PYTHON = {
    "win32": ("`winget install Python.Python.3.13`", "py -3.13"),
    "darwin": ("`brew install python@3.13`", "python3.13"),
    "linux": ("`sudo apt-get install -y python3 python3-venv` (Debian 12, Ubuntu 24.04 or newer) or from "
              "https://www.python.org/downloads/", "python3"),
}
FAILURE_SIGNS = (
    (r"No space left|not enough space on the disk|Disk quota exceeded|Errno 28\b",
     "the disk is full; free about 1 GB, then type the same command again"),
    (r"DO NOT MATCH THE HASHES",
     "a package arrived that is not the one locked, so nothing of it was installed; type the same command again, on "
     "another network if it stays so"),
    (r"(Connection|Resolution|Proxy|SSL)Error|(Connect|Read)Timeout|(name resol|failure resol|is unreach)",
     "the network does not answer; check the connection or the proxy, then type the same command again"),
    (r"ensurepip is not|No module named .?ensurepip",
     "this Python lacks ensurepip, which Debian and Ubuntu keep in the package python3-venv; type "
     "`sudo apt-get install -y python3-venv`, then the same command again"),
    (r"No matching distribution",
     "a package is not made for this Python or this system; type the command with another Python from 3.11 on"),
    (r"Permission denied|Access is denied|Read-only file system|WinError (5|32)\b",
     "a file is not yours or in use; close what uses .venv, or delete it, then type the same command again"),
)


class Trouble(Exception):
    """The environment is not as it has to be; the text says what is wrong and what to type."""


# What was typed: the command ('' for none), what goes on to it, and what concerns the set-up alone.
Request = NamedTuple("Request", [("command", str), ("arguments", List[str]), ("wants_help", bool),
                                 ("system_packages", bool)])


def say(text: str) -> None:
    """Writes to stderr, so that the output of a command stays its own."""
    print(text, file=sys.stderr, flush=True)


def split_arguments(arguments: Sequence[str]) -> Request:
    """Takes the set-up's own flag out of what was typed; everything else goes on to the command."""
    rest = [argument for argument in arguments if argument != "--no-system-packages"]
    command = rest[0] if rest and not rest[0].startswith("-") else ""
    return Request(command, rest, not rest or "--help" in rest or "-h" in rest, len(rest) == len(arguments))


def typed_form() -> str:
    """The words before the command as this user types them, e.g. 'python3 pipeline/bootstrap.py'."""
    if os.name == "nt":
        return "{} {}".format("py" if shutil.which("py") else "python", sys.argv[0])
    name = os.path.basename(getattr(sys, "orig_argv", [sys.executable])[0])
    return "{} {}".format(name if shutil.which(name) else sys.executable, shlex.quote(sys.argv[0]))


def old_python_sentence(version: Sequence[int], platform: str, script: str, newer: Sequence[str]) -> str:
    """Says which Python is needed and how to get it, or which newer one (by name) is on this machine already."""
    get, name = GET_PYTHON.get(platform, GET_PYTHON["linux"])
    mend = "get one with {}, then type `{} {}`".format(get, name, script)
    if newer:
        mend = "type `{} {}`, which this machine has".format(newer[0], script)
    return "Mutual Moon needs Python 3.11 or newer, and this is Python {}.{}: {}.".format(*version[:2], mend)


def failure_sentences(what: str, lines: Sequence[str]) -> str:
    """One sentence on why a step failed, its last lines without pip's frames, and where the whole log lies."""
    text = "\n".join(lines)
    reason = next((words for sign, words in FAILURE_SIGNS if re.search(sign, text)), "its last lines say why")
    tail = ["  | " + line for line in lines if not re.match(r"\s*(note:|hint:|error: subproc|[×│╰]|$)", line)][-5:]
    return "\n".join(["{} failed: {}.".format(what, reason), *tail, "The whole log: " + LOG])


def stage_now(what: str, text: str) -> str:
    """What one who waits is told, from all that pip has written so far; `what` where that tells nothing."""
    unpacking = re.findall(r"^Installing collected packages:(.*)", text, re.MULTILINE)
    if unpacking and "," in unpacking[-1]:
        return "Unpacking {} packages".format(unpacking[-1].count(",") + 1)
    retrying = "Retrying (" in text.rstrip().rpartition("\n")[2]
    return "The network does not answer yet; trying again" if retrying else what


def tell(stage: str, told: str, seconds: float) -> None:
    """The stage now: one line rewritten in place on a terminal, elsewhere a line where it is not the one told last."""
    if sys.stderr.isatty():
        width = shutil.get_terminal_size().columns - 1
        line = "  {} ({:.0f} s)".format(stage, seconds) if stage else ""
        print("\r" + line[:width].ljust(width), end="" if stage else "\r", file=sys.stderr, flush=True)
    elif stage != told and stage:
        say("  " + stage)


def run_logged(what: str, command: Sequence[str], lock: int = -1) -> None:
    """Runs in the project folder with its output in the log; raises Trouble with the last lines where it fails."""
    begun, told, text = time.monotonic(), "", ""
    # The child keeps the lock open: should this process be killed, the next set-up waits for the orphan.
    kept = (lock,) if lock >= 0 and os.name == "posix" else ()
    with open(LOG, "ab") as log, open(LOG, encoding="utf-8", errors="replace") as written:
        written.seek(0, os.SEEK_END)
        with subprocess.Popen(
            list(command), cwd=ROOT, env=dict(os.environ, DEBIAN_FRONTEND="noninteractive"), pass_fds=kept,
            stdin=subprocess.DEVNULL, stdout=log, stderr=subprocess.STDOUT,
        ) as process:
            while process.returncode is None:
                tell(stage_now(what, text), told, time.monotonic() - begun)
                told = stage_now(what, text)
                # Packages unpack for many seconds without a word of pip's: the running seconds show that it lives.
                with contextlib.suppress(subprocess.TimeoutExpired):
                    process.wait(0.2)
                text += written.read()
    tell("", told, 0)
    if process.returncode:
        raise Trouble(failure_sentences(what, text.splitlines()))


def install_debian_packages(packages: str, request: Request) -> None:
    """Only as root, on Debian and its kin. A failure is no end: whoever misses the packages says so."""
    root = os.path.exists("/etc/debian_version") and os.geteuid() == 0
    if not packages or not root or not request.system_packages:
        return
    say("Installing {} with apt-get (--no-system-packages leaves this out).".format(packages))
    for step in ("update", "install -y --no-install-recommends " + packages):
        try:
            run_logged("apt-get " + step.split()[0], ["apt-get", *step.split()])
        except (Trouble, OSError) as fault:
            say(str(fault))


def wanted_stamp(root: str, tests: bool) -> Dict[str, object]:
    """What a finished set-up of this folder by this Python is known by; a moved folder breaks an environment."""
    stamp = {"root": os.path.realpath(root), "python": list(sys.version_info[:2]), "tests": tests}
    for key, name in (("pyproject", "pyproject.toml"), ("packages", TEST_PACKAGES if tests else RUN_PACKAGES)):
        with open(os.path.join(root, name), "rb") as file:
            stamp[key] = hashlib.sha256(file.read()).hexdigest()
    return stamp


def read_stamp(venv: str, python: str) -> Dict[str, object]:
    """The stamp of the set-up that finished last, {} without one or without the environment's Python."""
    try:
        with open(os.path.join(venv, STAMP), encoding="utf-8") as file:
            stamp = json.load(file)
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) and os.path.exists(python) else {}


def setup_reason(found: Dict[str, object], wanted: Dict[str, object]) -> str:
    """Why the set-up has to run, '' where all is there. More packages than wanted do no harm."""
    changes = (("root", "this folder was moved or copied"), ("python", "the last one was for another Python"),
               ("tests", "the tests need more packages"), ("packages", "the list of packages has changed"),
               ("pyproject", "pyproject.toml has changed"))
    if not found:
        return "none has finished here yet"
    return next((words for key, words in changes if wanted[key] and found.get(key) != wanted[key]), "")


def take_lock(handle: int) -> bool:
    """Whether this process holds the lock now; the system frees it when its holder ends, so it is never stale."""
    try:
        if sys.platform == "win32":
            import msvcrt
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


def stamps(request: Request) -> Tuple[Dict[str, object], Dict[str, object]]:
    """The stamp found and the one wanted; who has the packages of the tests keeps them."""
    found = read_stamp(VENV, PYTHON)
    return found, wanted_stamp(ROOT, request.command in CHECKS or bool(found.get("tests")))


def prepare(request: Request) -> None:
    """Makes .venv what the lists of packages say; costs a few file look-ups, and no lock, where it is so already."""
    if not setup_reason(*stamps(request)):
        return
    os.makedirs(VENV, exist_ok=True)
    with open(os.path.join(VENV, LOCK), "a") as lock:
        if not take_lock(lock.fileno()):
            say("Another set-up of this folder is running; waiting for it.")
            while not take_lock(lock.fileno()):
                time.sleep(0.2)
        found, wanted = stamps(request)
        if setup_reason(found, wanted):
            set_up(found, wanted, request, lock.fileno())


def set_up(found: Dict[str, object], wanted: Dict[str, object], request: Request, lock: int) -> None:
    """The stamp goes first and comes last, so that what is interrupted between is made anew."""
    begun = time.monotonic()
    say("Setting up Mutual Moon in .venv ({}); this takes about a minute.".format(setup_reason(found, wanted)))
    with contextlib.suppress(FileNotFoundError):
        os.remove(os.path.join(VENV, STAMP))
    if [found.get(key) for key in ("root", "python")] != [wanted["root"], wanted["python"]]:
        if not importlib.util.find_spec("ensurepip"):
            install_debian_packages("python3-venv", request)
        for entry in list(os.scandir(VENV)):
            if entry.name != LOCK:
                (shutil.rmtree if entry.is_dir(follow_symlinks=False) else os.remove)(entry.path)
        base = getattr(sys, "_base_executable", "") or sys.executable
        run_logged("Making the environment", [base, "-I", "-m", "venv", VENV], lock)
    pip = [PYTHON, "-I", "-m", "pip", "install", "--disable-pip-version-check", "--no-input", "--progress-bar", "off"]
    # What the program needs comes ready made for every system; some of the tests' packages are built here.
    packages = [TEST_PACKAGES] if wanted["tests"] else [RUN_PACKAGES, "--only-binary", ":all:"]
    run_logged("Loading packages", [*pip, "--require-hashes", "-r", *packages], lock)
    project = ["--no-index", "--no-deps", "--no-build-isolation", "--editable", "."]
    run_logged("Installing the program", [*pip, *project], lock)
    # It prints the Debian packages whose libraries do not load; elsewhere the program itself says what to do.
    missing = subprocess.run([PYTHON, "-P", "-m", "pipeline.reports.pango_help"], cwd=ROOT, stdout=subprocess.PIPE,
                             encoding="utf-8", check=False).stdout
    install_debian_packages(missing.strip(), request)
    with open(os.path.join(VENV, STAMP), "w", encoding="utf-8") as file:
        json.dump(wanted, file)
    say("Set up in {:.0f} s.".format(time.monotonic() - begun))


def needs_project_folder(request: Request, folder: str) -> bool:
    """Whether the demo season is meant: none is named, and nothing of the user's own lies in the folder."""
    found = any(argument.split("=")[0] in ("--season", "--demo") for argument in request.arguments)
    own = ("stations", "season.yaml", "season.yml", os.path.join("*", "season.y*ml"))
    found = found or any(glob.glob(os.path.join(glob.escape(folder), name)) for name in own)
    return request.command in SEASON_COMMANDS and not found and not request.wants_help


def hand_over(request: Request) -> int:
    """Runs the command in this process's place (on Windows, which cannot, as a child)."""
    if request.command in CHECKS:
        return subprocess.call([PYTHON, "-m", CHECKS[request.command], *request.arguments[1:]], cwd=ROOT)
    os.environ["MUTUAL_MOON_TYPED"] = typed_form()
    if needs_project_folder(request, os.getcwd()):
        say("No stations/season.yaml here: working in {}.".format(ROOT))
        os.chdir(ROOT)
    # With -P no folder named pipeline where the user stands is taken for ours.
    command = [PYTHON, "-P", "-m", "pipeline", *request.arguments]
    return subprocess.call(command) if os.name == "nt" else os.execv(PYTHON, command)


def run(arguments: Sequence[str]) -> int:
    request = split_arguments(arguments)
    if request.wants_help and request.command in ("", *CHECKS):
        say(str(__doc__))
        if request.command:
            return 0
    prepare(request)
    return hand_over(request)


def main(arguments: Sequence[str]) -> int:
    """Exit code: the command's own, 2 for what the user can mend, 130 for Ctrl-C."""
    try:
        if sys.version_info < (3, 11):
            names = ["python3.{}".format(minor) for minor in range(15, 10, -1)]
            newer = [name for name in names if shutil.which(name)]
            raise Trouble(old_python_sentence(sys.version_info, sys.platform, " ".join(sys.argv), newer))
        return run(arguments)
    except (Trouble, OSError) as fault:
        say(str(fault) if isinstance(fault, Trouble) else failure_sentences("The set-up", [str(fault)]))
        return 2
    except KeyboardInterrupt:
        say("Stopped. The same command takes it up again.")
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
