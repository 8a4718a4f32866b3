"""How the inner loops are compiled: once per machine, kept on disk, free of the interpreter's lock.

Imported only when a plan is asked for, so that the rest of the computations start without the compiler.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import numba

HERE = Path(__file__).parent


def _fingerprint() -> str:
    """One name for all compiled files as they are now.

    The compiler looks only at the file that it compiles, but these call one another across files: without
    this, a change in one would leave the others running its old code.
    """
    sources = sorted(HERE.glob("*.py"))
    return hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest()[:16]


numba.config.CACHE_DIR = str(HERE / "__pycache__" / f"compiled-{_fingerprint()}")  # type: ignore[attr-defined]

compiled = numba.njit(nogil=True, cache=True)

# For the small functions of the inner loops: handing over the tables costs more than the work that they do.
inlined = numba.njit(nogil=True, cache=True, forceinline=True)
