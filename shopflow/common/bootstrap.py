"""A bare machine becomes one on which the shop runs. Standard library only: nothing else is there yet.

Every command of manage.py passes here first. Libraries live in `.venv` beside manage.py, installed from the
pinned lists and stamped with what they were installed from, so that a usual start costs two small reads.
"""

import fcntl
import hashlib
import os
import subprocess
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import NoReturn

ROOT = Path(__file__).resolve().parents[2]
VENV = ROOT / ".venv"
PYTHON = VENV / "bin" / "python"
PYTHON_VERSION = f"{sys.version_info.major}.{sys.version_info.minor}"

# For containers and other places where somebody else has installed the libraries.
OPT_OUT = "SHOPFLOW_NO_VENV"


@dataclass(frozen=True)
class Libraries:
    """What one purpose needs: the list to install, and the lists which that one stands on."""

    purpose: str
    wanted: Path
    below: tuple[Path, ...] = ()

    @property
    def stamp_file(self) -> Path:
        return VENV / f"installed-for-{self.purpose}"

    def stamp(self) -> str:
        content = b"".join(path.read_bytes() for path in (*self.below, self.wanted))
        return f"{PYTHON_VERSION} {hashlib.sha256(content).hexdigest()}"

    def are_in(self) -> bool:
        try:
            return PYTHON.exists() and self.stamp_file.read_text() == self.stamp()
        except FileNotFoundError:
            return False


RUNNING = Libraries("running", ROOT / "requirements.txt")
TESTING = Libraries("testing", ROOT / "tests" / "requirements.txt", below=(RUNNING.wanted,))


def enter_environment() -> None:
    """Return only where the pinned libraries are: build the environment and step over into it if need be."""
    if _left_to_others():
        return
    _ensure(RUNNING)
    if not _inside():
        os.execv(PYTHON, [str(PYTHON), *sys.argv])


def run_tests(arguments: Sequence[str]) -> NoReturn:
    """Become pytest, after fetching what only tests need; without arguments the whole suite runs."""
    if not _left_to_others():
        _ensure(TESTING)
    os.chdir(ROOT)
    chosen = list(arguments) or ["-n", "auto", "--dist", "loadfile"]
    os.execv(sys.executable, [sys.executable, "-m", "pytest", *chosen])


def _left_to_others() -> bool:
    return os.environ.get(OPT_OUT) == "1"


def _inside() -> bool:
    return VENV.exists() and os.path.samefile(sys.prefix, VENV)


def _ensure(libraries: Libraries) -> None:
    with _one_at_a_time():
        if not libraries.are_in():
            _make_room()
            _install(libraries)


def _make_room() -> None:
    """Make the empty environment, or a new one in place of that which another Python version left behind."""
    if _inside():
        return
    if find_spec("ensurepip") is None:
        sys.exit("Python's `venv` is not complete here. On Debian and Ubuntu: sudo apt install python3-venv")
    _say(f"Setting up, once: making {VENV.name} ...")
    left_behind = VENV.exists() and not (VENV / "lib" / f"python{PYTHON_VERSION}").exists()
    command = [sys.executable, "-m", "venv", *(["--clear"] if left_behind else []), str(VENV)]
    if subprocess.run(command, check=False).returncode:
        sys.exit(f"{VENV} could not be made. Is the disk full, or the folder not yours?")


def _install(libraries: Libraries) -> None:
    """Install exactly the pinned files, tell how far it has come, and stamp the environment in the end."""
    _say(f"Setting up, once: fetching the libraries for {libraries.purpose} (half a minute to a few) ...")
    command = [str(PYTHON), "-m", "pip", "install", "--disable-pip-version-check", "--no-input"]
    command += ["--progress-bar", "off", "--require-hashes", "-r", str(libraries.wanted)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as pip:
        _tell_progress(pip.stdout or ())
    if pip.returncode:
        sys.exit(
            "The libraries could not be installed; the reason stands above. Is the network there, and"
            " room on the disk? The same command again goes on from here."
        )
    libraries.stamp_file.write_text(libraries.stamp())


def _tell_progress(lines: Iterable[str]) -> None:
    fetched = 0
    for line in lines:
        if line.startswith(("Collecting ", "Processing ")):
            fetched += 1
            if fetched % 10 == 0:
                _say(f"  {fetched} fetched ...")
        elif line.startswith("Installing "):
            _say(f"  {fetched} fetched, putting them in place ...")


def _say(words: str) -> None:
    print(words, file=sys.stderr, flush=True)


@contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Two commands started together must not both build: the second waits, then finds it done."""
    folder = os.open(ROOT, os.O_RDONLY)
    try:
        fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)
