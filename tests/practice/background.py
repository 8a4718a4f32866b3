"""Work that leaves a trace of every key it struck, so that a test can see what was done, and how often."""

from __future__ import annotations

import os
import time
from pathlib import Path

from shopflow.common import jobs


@jobs.kind("practice-strike")
def strike(run: jobs.Run, *, keys: int, pause_s: float, diary: str) -> dict[str, int]:
    for key in range(1, keys + 1):
        if run.stopped():
            break
        with Path(diary).open("a") as book:
            book.write(f"{os.getpid()} {key}\n")
        run.progress(key, total=keys, note=f"key {key}")
        time.sleep(pause_s)
    return {"keys": keys}
