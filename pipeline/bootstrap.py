"""Starts Mutual Moon on a fresh machine: makes .venv, installs the project, checks Pango, then runs `mutual-moon`.

Of its own it knows `test [PYTEST ARGUMENTS]`, `bench`, `soak` (contributors') and `--no-system-packages` (no apt-get).
Standard library alone, and it parses on Python 3.6, so that an old interpreter gets a sentence and no syntax error.
"""
# ruff: noqa: E402 (the path comes before the imports that it serves)
import os
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
if __name__ == "__main__":
    # A script's own folder comes first on the path, where a module of ours would shadow a standard one.
    sys.path[:] = [entry for entry in sys.path if os.path.abspath(entry) != HERE]

import contextlib
import ctypes
import hashlib
import importlib.util
import json
import re
import shlex
import shutil
import subprocess
import threading
import time
from typing import Callable, Dict, List, NamedTuple, Sequence

ROOT = os.path.dirname(HERE)
VENV = os.path.join(ROOT, ".venv")
PYTHON = os.path.join(VENV, "Scripts", "python.exe") if os.name == "nt" else os.path.join(VENV, "bin", "python")
LOG = os.path.join(VENV, "setup.log")
STAMP, LOCK = "setup.json", "setup.lock"
MORE_PACKAGES = "the tests need more packages"
CHECKS = ("test", "bench", "soak")
RENDERING = ("plan", "year", "letters", "night", "review", *CHECKS)
# These read the season and take no path of their own, so they may move to the project folder.
SEASON_COMMANDS = ("plan", "check", "explain", "year", "letters", "send", "night", "answer")
# What WeasyPrint opens (its text/ffi.py), and where Homebrew, MacPorts and MSYS2 keep it.
LIBRARIES = tuple((n, int(n == "fontconfig")) for n in (
    "gobject-2.0", "pango-1.0", "harfbuzz", "harfbuzz-subset", "fontconfig", "pangoft2-1.0"))
LIBRARY_FILES = {"linux": "lib{}.so.{}", "darwin": "lib{}.{}.dylib", "win32": "lib{}-{}.dll"}
MAC_FOLDERS = ("/opt/homebrew/lib", "/usr/local/lib", "/opt/local/lib")
WINDOWS_FOLDERS = r"C:\msys64\ucrt64\bin;C:\msys64\mingw64\bin;C:\Program Files\GTK3-Runtime Win64\bin"
# From WeasyPrint's "First steps" page; the key is sys.platform, or ID or a word of ID_LIKE in os-release; {} is sudo.
DEBIAN_PANGO = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
PANGO_COMMANDS = {
    "darwin": "brew install pango",
    "win32": r"C:\msys64\usr\bin\pacman.exe -S --noconfirm mingw-w64-ucrt-x86_64-pango",
    "alpine": "{}apk add " + " ".join("so:" + LIBRARY_FILES["linux"].format(*library) for library in LIBRARIES),
    "debian": "{}apt-get install -y " + DEBIAN_PANGO,
    "fedora": "{}dnf install -y pango",
    "arch": "{}pacman -S --noconfirm pango",
    "suse": "{}zypper install -y libpango-1_0-0 libharfbuzz-subset0",
}
GET_PYTHON = {
    "win32": ("`winget install Python.Python.3.13`", "py -3.13"),
    "darwin": ("`brew install python@3.13`", "python3.13"),
    "linux": ("`sudo apt-get install -y python3 python3-venv` (Debian 12, Ubuntu 24.04 or newer) or from "
              "https://www.python.org/downloads/", "python3"),
}
FAILURE_SIGNS = (
    (r"No space left|not enough space on the disk|Disk quota exceeded|Errno 28\b",
     "the disk is full; free about 1 GB, then type the same command again"),
    (r"(Connection|Resolution|Proxy|SSL)Error|(Connect|Read)Timeout|(name resol|failure resol|is unreach)",
     "the network does not answer; check the connection or the proxy, then type the same command again"),
    (r"Permission denied|Access is denied|WinError (5|32)\b",
     "a file is not yours or in use; close what uses .venv, or delete it, then type the same command again"),
)


class Trouble(Exception):
    """The environment is not as it has to be; the text says what is wrong and what to type."""


# What was typed: the command ('' for none), what goes on to it, and what concerns the set-up alone.
Request = NamedTuple("Request", [("command", str), ("arguments", List[str]), ("wants_help", bool),
                                 ("needs_pango", bool), ("system_packages", bool)])


class Progress:
    """The stage now: one line rewritten in place on a terminal, elsewhere one line a stage."""

    def __init__(self) -> None:
        self.begun, self.text, self.steps, self.ended = time.monotonic(), "", 0, threading.Event()
        self.ticker = threading.Thread(target=self._tick, daemon=True) if sys.stderr.isatty() else None
        if self.ticker:
            self.ticker.start()

    def stage(self, text: str) -> None:
        """Begins a stage; named again, it counts a step more of the same stage; '' is none."""
        if not text:
            return
        self.steps, self.text = self.steps + 1 if text == self.text else 0, text
        if not self.steps and not self.ticker:
            say("  " + text)

    def close(self) -> None:
        self.ended.set()
        if self.ticker:
            self.ticker.join()

    def _tick(self) -> None:
        # Packages unpack for many seconds without a word of pip's: the running seconds show that it lives.
        width = shutil.get_terminal_size().columns - 1
        while not self.ended.wait(0.2):
            line = "  {} {} ({:.0f} s)".format(self.text, self.steps or "", time.monotonic() - self.begun)
            print("\r" + line[:width].ljust(width), end="", file=sys.stderr, flush=True)
        sys.stderr.write("\r" + " " * width + "\r")


def say(text: str) -> None:
    """Writes to stderr, so that the output of a command stays its own."""
    print(text, file=sys.stderr, flush=True)


def split_arguments(arguments: Sequence[str]) -> Request:
    """Takes the set-up's own flag out of what was typed; everything else goes on to the command."""
    rest = [argument for argument in arguments if argument != "--no-system-packages"]
    command = rest[0] if rest and not rest[0].startswith("-") else ""
    wants_help = not rest or "--help" in rest or "-h" in rest
    needs_pango = command in RENDERING and not wants_help and "--no-pdf" not in rest
    return Request(command, rest, wants_help, needs_pango, len(rest) == len(arguments))


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


def system_names(path: str = "/etc/os-release") -> List[str]:
    """ID and the words of ID_LIKE of this Linux, [] elsewhere."""
    if not os.path.exists(path):
        return []
    with open(path, encoding="utf-8") as file:
        return " ".join(re.findall(r"^ID(?:_LIKE)?=[\"']?([^\"'\n]*)", file.read(), re.MULTILINE)).split()


def sudo() -> str:
    return "" if not hasattr(os, "geteuid") or os.geteuid() == 0 else "sudo "


def pango_sentence(platform: str, names: Sequence[str], prefix: str) -> str:
    """What to type where the PDF libraries do not load: the one command for this system where one is known."""
    command = next((PANGO_COMMANDS[name] for name in [platform, *names] if name in PANGO_COMMANDS), "")
    mend = "install Pango 1.44 or newer and HarfBuzz with its subset library, then type the same command again."
    if command:
        before = "install MSYS2 from https://www.msys2.org, then " if platform == "win32" else ""
        mend = "{}type this, and the same command again after it:\n  {}".format(before, command.format(prefix))
    return "PDF pages need the Pango libraries, which do not load here: {}\nOr add --no-pdf.".format(mend)


def pango_loads() -> bool:
    """Whether every library opens that WeasyPrint opens; quicker than importing it."""
    if sys.platform == "win32":
        for folder in os.environ.get("WEASYPRINT_DLL_DIRECTORIES", WINDOWS_FOLDERS).split(";"):
            with contextlib.suppress(OSError):
                os.add_dll_directory(folder)
    for library in LIBRARIES:
        name = LIBRARY_FILES.get(sys.platform, LIBRARY_FILES["linux"]).format(*library)
        for folder in ("", *MAC_FOLDERS) if sys.platform == "darwin" else ("",):
            with contextlib.suppress(OSError):
                ctypes.CDLL(os.path.join(folder, name))
                break
        else:
            return False
    return True


def failure_sentences(what: str, lines: Sequence[str]) -> str:
    """One sentence on why a step failed, its last lines without pip's frames, and where the whole log lies."""
    text = "\n".join(lines)
    reason = next((words for sign, words in FAILURE_SIGNS if re.search(sign, text)), "its last lines say why")
    tail = ["  | " + line for line in lines if not re.match(r"\s*(note:|hint:|error: subproc|[×│╰]|$)", line)][-5:]
    return "\n".join(["{} failed: {}.".format(what, reason), *tail, "The whole log: " + LOG])


def run_logged(what: str, command: Sequence[str], on_line: Callable[[str], object] = len, lock: int = -1) -> None:
    """Runs quietly in the project folder, appending to the log; raises Trouble with the last lines where it fails."""
    lines = []
    # The child keeps the lock open: should this process be killed, the next set-up waits for the orphan.
    kept = (lock,) if lock >= 0 and os.name == "posix" else ()
    with open(LOG, "a", encoding="utf-8") as log, subprocess.Popen(
        list(command), cwd=ROOT, env=dict(os.environ, DEBIAN_FRONTEND="noninteractive"), encoding="utf-8",
        errors="replace", stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, pass_fds=kept,
    ) as process:
        for line in process.stdout or ():
            log.write(line)
            lines.append(line.rstrip())
            on_line(line)
    if process.returncode:
        raise Trouble(failure_sentences(what, lines))


def install_debian_packages(packages: str, request: Request) -> None:
    """Only as root, on Debian and its kin. A failure is no end: the check that follows says what to type."""
    if "debian" not in system_names() or sudo() or not request.system_packages or not shutil.which("apt-get"):
        return
    say("Installing {} with apt-get (--no-system-packages leaves this out).".format(packages))
    for step in ("update", "install -y --no-install-recommends " + packages):
        try:
            run_logged("apt-get " + step, ["apt-get", *step.split()])
        except Trouble as trouble:
            say(str(trouble))


def ensure_pango(request: Request) -> None:
    """Raises Trouble with the one command where PDF pages cannot be made; as root on Debian it installs first."""
    mark = os.path.join(VENV, "pango-loads")
    if os.path.exists(mark):
        return
    if not pango_loads():
        install_debian_packages(DEBIAN_PANGO, request)
    if not pango_loads():
        raise Trouble(pango_sentence(sys.platform, system_names(), sudo()))
    open(mark, "w").close()


def ensure_ensurepip(request: Request) -> None:
    """Debian keeps ensurepip, without which no environment gets pip, in a package of its own."""
    if not importlib.util.find_spec("ensurepip"):
        install_debian_packages("python3-venv", request)
        importlib.invalidate_caches()
    if not importlib.util.find_spec("ensurepip"):
        raise Trouble("This Python lacks ensurepip, which Debian and Ubuntu keep in the package python3-venv: type "
                      "`{}apt-get install -y python3-venv`, then the same command again.".format(sudo()))


def wanted_stamp(root: str, tests: bool) -> Dict[str, object]:
    """What a finished set-up of this folder by this Python is known by; a moved folder breaks an environment."""
    with open(os.path.join(root, "pyproject.toml"), "rb") as file:
        digest = hashlib.sha256(file.read()).hexdigest()
    return {"root": os.path.realpath(root), "python": list(sys.version_info[:2]), "pyproject": digest, "tests": tests}


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
               ("pyproject", "pyproject.toml has changed"), ("tests", MORE_PACKAGES))
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


def make_environment(lock: int) -> None:
    """Empties .venv, but for the lock that others may be waiting for, and makes it anew."""
    for entry in list(os.scandir(VENV)):
        if entry.name != LOCK:
            (shutil.rmtree if entry.is_dir(follow_symlinks=False) else os.remove)(entry.path)
    base = getattr(sys, "_base_executable", "") or sys.executable
    run_logged("Making .venv", [base, "-I", "-m", "venv", VENV], lock=lock)


def pip_stage(line: str) -> str:
    """What a line of pip's means to one who waits, '' where it means nothing."""
    if line.startswith("Installing collected packages:"):
        return "Unpacking {} packages".format(line.count(",") + 1)
    if "Retrying (" in line:
        return "The network does not answer yet; trying again"
    return "Loading packages" if line.startswith("Collecting ") else ""


def prepare(request: Request) -> None:
    """Makes .venv what pyproject.toml asks for; costs a few file look-ups when it is so already."""
    wanted = wanted_stamp(ROOT, request.command in CHECKS)
    if not setup_reason(read_stamp(VENV, PYTHON), wanted):
        return
    os.makedirs(VENV, exist_ok=True)
    with open(os.path.join(VENV, LOCK), "a") as lock:
        if not take_lock(lock.fileno()):
            say("Another set-up of this folder is running; waiting for it.")
            while not take_lock(lock.fileno()):
                time.sleep(0.2)
        found = read_stamp(VENV, PYTHON)
        if setup_reason(found, wanted):
            ensure_ensurepip(request)
            set_up(found, wanted, lock.fileno())


def set_up(found: Dict[str, object], wanted: Dict[str, object], lock: int) -> None:
    """The stamp goes first and comes last, so that what is interrupted between is made anew."""
    reason = setup_reason(found, wanted)
    say("Setting up Mutual Moon in .venv ({}); this takes about a minute.".format(reason))
    with contextlib.suppress(FileNotFoundError):
        os.remove(os.path.join(VENV, STAMP))
    progress = Progress()
    try:
        if reason != MORE_PACKAGES:
            progress.stage("Making the environment")
            make_environment(lock)
        wanted["tests"] = bool(wanted["tests"] or found.get("tests"))
        options = ["--disable-pip-version-check", "--no-input", "--progress-bar", "off", "--editable"]
        command = [PYTHON, "-I", "-m", "pip", "install", *options, ".[test]" if wanted["tests"] else "."]
        progress.stage("Loading packages")
        run_logged("Loading packages", command, lambda line: progress.stage(pip_stage(line)), lock)
    finally:
        progress.close()
    with open(os.path.join(VENV, STAMP), "w", encoding="utf-8") as file:
        json.dump(wanted, file)
    say("Set up in {:.0f} s.".format(time.monotonic() - progress.begun))


def run_checks(command: str, arguments: Sequence[str]) -> int:
    """`test`: ruff, mypy, then pytest, whose closing line comes last; not 0 if any of them finds a fault."""
    if command != "test":
        return subprocess.call([PYTHON, "-m", "tests." + command, *arguments], cwd=ROOT)
    tools = [tool for tool in ("ruff check .", "mypy") if subprocess.call([PYTHON, "-m", *tool.split()], cwd=ROOT)]
    code = subprocess.call([PYTHON, "-m", "pytest", "-n", "auto", *arguments], cwd=ROOT)
    if tools:
        say("Faults found further up by: {}.".format(", ".join(tools)))
    return code or len(tools)


def needs_project_folder(request: Request, folder: str) -> bool:
    """Whether the demo season is meant: none is named, and none lies in the user's folder."""
    found = any(argument.split("=")[0] in ("--season", "--demo") for argument in request.arguments)
    found = found or os.path.exists(os.path.join(folder, "stations", "season.yaml"))
    return request.command in SEASON_COMMANDS and not found and not request.wants_help


def hand_over(request: Request) -> int:
    """Runs the command in this process's place (on Windows, which cannot, as a child)."""
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
    if request.needs_pango:
        ensure_pango(request)
    if sys.platform == "darwin":
        # Python from elsewhere than Homebrew does not look into Homebrew's folder.
        folders = (os.environ.get("DYLD_FALLBACK_LIBRARY_PATH", ""), *MAC_FOLDERS, "/usr/lib")
        os.environ["DYLD_FALLBACK_LIBRARY_PATH"] = ":".join(filter(None, folders))
    return run_checks(request.command, request.arguments[1:]) if request.command in CHECKS else hand_over(request)


def main(arguments: Sequence[str]) -> int:
    """Exit code: the command's own, 2 for what the user can mend, 130 for Ctrl-C."""
    try:
        if sys.version_info < (3, 11):
            newer = [name for name in ("python3.13", "python3.12", "python3.11") if shutil.which(name)]
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
