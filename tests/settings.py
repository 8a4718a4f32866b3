"""The shop's own settings on a data folder that lasts for one run: no test meets a real shop's files."""

import atexit
import os
import shutil
import tempfile

_data = tempfile.mkdtemp(prefix="shop-tests-")
atexit.register(shutil.rmtree, _data, ignore_errors=True)
os.environ["SHOPFLOW_DATA"] = _data  # the processes that tests start see it too
os.environ.setdefault("SHOPFLOW_SECRET_KEY", "for tests only, never for a shop: " + "0123456789" * 3)

from shopflow.settings import *  # noqa: E402, F403
from shopflow.settings import DATA_DIR, DATABASES  # noqa: E402

# A real file: in memory, SQLite has neither the journal nor the locks that a shop works with.
if str(DATABASES["default"]["ENGINE"]).endswith("sqlite3"):
    DATABASES["default"]["TEST"] = {"NAME": DATA_DIR / "tests.sqlite3"}

# Proper password hashes are slow on purpose.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
