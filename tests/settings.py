"""The project's settings with a folder of their own, no static manifest and quick passwords."""

import atexit
import os
import shutil
import tempfile
from urllib.parse import urlsplit

MEMORY = "/dev/shm"  # where there is one, files of the tests never reach a disk
FOLDER = tempfile.mkdtemp(
    prefix="riserbook-test-", dir=MEMORY if os.access(MEMORY, os.W_OK) else None
)
atexit.register(shutil.rmtree, FOLDER, ignore_errors=True)
os.environ["RISERBOOK_VAR_DIR"] = FOLDER
os.environ["STATIC_MANIFEST"] = "0"
os.environ["EMAIL_URL"] = "memorymail://"

from config.settings import *  # noqa: E402, F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STATIC_ROOT.mkdir(exist_ok=True)  # noqa: F405  # WhiteNoise warns when it is missing
# Files are looked for when they are asked for: to list them all takes 0.1 s of each test that has a
# client of its own.
WHITENOISE_AUTOREFRESH = True

# In memory, SQLite locks whole tables between the threads of a live server; a file takes two
# readers and a writer at once, as in service.
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":  # noqa: F405
    DATABASES["default"]["TEST"] = {"NAME": str(VAR_DIR / "test.sqlite3")}  # noqa: F405
    # Nothing outlives the tests, so nothing needs to be on the disk when a transaction ends.
    OPTIONS = DATABASES["default"]["OPTIONS"]  # noqa: F405
    OPTIONS["init_command"] = OPTIONS["init_command"].replace("NORMAL", "OFF")
else:
    # Nor need PostgreSQL wait for the disk at the end of each transaction.
    DATABASES["default"]["OPTIONS"] = {"options": "-c synchronous_commit=off"}  # noqa: F405

# Where no Redis is, the book counts in the database; tests that have none may not ask it.
if not REDIS_URL:  # noqa: F405
    CACHES["default"] = {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}  # noqa: F405

# Each process of a suite empties the cache before each test, so each has a Redis database of its
# own beside the one of the queue.
if REDIS_URL:  # noqa: F405
    address = urlsplit(REDIS_URL)  # noqa: F405
    worker = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")) + 1
    database = (int(address.path.strip("/") or 0) + worker) % 16
    for kept in CACHES.values():  # noqa: F405
        kept["LOCATION"] = address._replace(path=f"/{database}").geturl()
