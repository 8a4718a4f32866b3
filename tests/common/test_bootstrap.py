"""A bare machine: what is installed when, and what a person is told when it cannot be."""

from __future__ import annotations

import re
import subprocess
import sys
from importlib.machinery import ModuleSpec
from pathlib import Path

import pytest

from shopflow.common import bootstrap
from shopflow.common.bootstrap import ROOT, Libraries

PIN = re.compile(r"^([a-z0-9][a-z0-9._-]*)==(\S+)", re.MULTILINE)
LISTS = [bootstrap.RUNNING.wanted, bootstrap.TESTING.wanted]


@pytest.fixture
def libraries(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Libraries:
    """A list of two lines and a place for it, with nothing installed yet."""
    venv = tmp_path / ".venv"
    (venv / "bin").mkdir(parents=True)
    (venv / "bin" / "python").touch()
    monkeypatch.setattr(bootstrap, "VENV", venv)
    monkeypatch.setattr(bootstrap, "PYTHON", venv / "bin" / "python")
    (tmp_path / "below.txt").write_text("felt==1\n")
    (tmp_path / "wanted.txt").write_text("wire==2\n")
    return Libraries("practice", tmp_path / "wanted.txt", below=(tmp_path / "below.txt",))


def test_nothing_is_installed_until_all_of_it_is(libraries: Libraries) -> None:
    assert not libraries.are_in()
    libraries.stamp_file.write_text(libraries.stamp())
    assert libraries.are_in()


@pytest.mark.parametrize("changed", ["wanted.txt", "below.txt"])
def test_a_changed_list_is_installed_anew(libraries: Libraries, changed: str) -> None:
    libraries.stamp_file.write_text(libraries.stamp())
    libraries.wanted.with_name(changed).write_text("wire==3\n")
    assert not libraries.are_in()


def test_another_python_installs_anew(libraries: Libraries, monkeypatch: pytest.MonkeyPatch) -> None:
    libraries.stamp_file.write_text(libraries.stamp())
    monkeypatch.setattr(bootstrap, "PYTHON_VERSION", "3.99")
    assert not libraries.are_in()


def test_an_environment_whose_python_went_away_is_made_anew(libraries: Libraries) -> None:
    libraries.stamp_file.write_text(libraries.stamp())
    bootstrap.PYTHON.unlink()
    assert not libraries.are_in()


def test_a_python_without_venv_is_told_which_package_is_missing(
    libraries: Libraries, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none_of_it(name: str) -> ModuleSpec | None:
        return None if name == "ensurepip" else ModuleSpec(name, None)

    monkeypatch.setattr(bootstrap, "find_spec", none_of_it)
    with pytest.raises(SystemExit, match="sudo apt install python3-venv"):
        bootstrap._make_room()


def test_an_old_python_is_told_so_in_plain_words() -> None:
    pretend = (
        "import runpy, sys; sys.version_info = (3, 10, 2, 'final', 0);"
        "runpy.run_path('manage.py', run_name='__main__')"
    )
    command = [sys.executable, "-c", pretend]
    answer = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert answer.returncode == 1
    assert answer.stderr == "Python 3.11 or newer is needed; this is Python 3.10.\n"


def test_the_bootstrap_needs_nothing_but_python_itself() -> None:
    """-S hides every installed library."""
    program = "import sys; sys.path.insert(0, '.'); import shopflow.common.bootstrap"
    subprocess.run([sys.executable, "-S", "-c", program], cwd=ROOT, check=True)


@pytest.mark.parametrize("path", LISTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_library_is_pinned_with_hashes_and_no_list_names_a_place(path: Path) -> None:
    text = path.read_text()
    blocks = [block for block in re.split(r"\n(?=[a-z0-9])", text) if PIN.match(block)]
    assert len(blocks) > 30
    assert [block.splitlines()[0] for block in blocks if "--hash=sha256:" not in block] == []
    assert re.findall(r"https?:|file:|--(?:extra-)?index|--find-links|/home/|/root/", text) == []


def test_a_pin_stands_in_one_list_only() -> None:
    running, testing = ({name for name, _ in PIN.findall(path.read_text())} for path in LISTS)
    assert running & testing == set()
