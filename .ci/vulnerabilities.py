"""Look up the pinned libraries among known vulnerabilities; never say "none" when nobody was asked."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
LISTS = [ROOT / "requirements.txt", ROOT / "tests" / "requirements.txt"]


def look_up(wanted: Path) -> list[dict[str, Any]]:
    program = [
        sys.executable,
        "-m",
        "pip_audit",
        "--disable-pip",
        "--require-hashes",
        "--progress-spinner",
        "off",
    ]
    command = [*program, "--format", "json", "--requirement", str(wanted)]
    answer = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if not answer.stdout:
        raise SystemExit(f"the look-up itself failed:\n{answer.stderr}")
    found: list[dict[str, Any]] = json.loads(answer.stdout)["dependencies"]
    return found


def verdict(libraries: list[dict[str, Any]]) -> tuple[int, str]:
    """An exit code and what to say: 1 as soon as one library is known to be vulnerable."""
    skipped = [library["name"] for library in libraries if "skip_reason" in library]
    bad = [library for library in libraries if library.get("vulns")]
    if bad:
        return 1, "\n".join(f"{each['name']} {each['version']}: {_ids(each)}" for each in bad)
    if len(skipped) == len(libraries):
        return 0, "NOT CHECKED: the list of known vulnerabilities cannot be reached from this machine."
    words = f"{len(libraries) - len(skipped)} libraries looked up, no known vulnerability."
    return 0, words + (f" Not looked up: {', '.join(skipped)}." if skipped else "")


def _ids(library: dict[str, Any]) -> str:
    return ", ".join(f"{each['id']} (mended in {each['fix_versions']})" for each in library["vulns"])


if __name__ == "__main__":
    code, words = verdict([library for wanted in LISTS for library in look_up(wanted)])
    print(words)
    sys.exit(code)
