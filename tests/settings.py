"""The project's settings with a folder of their own, no static manifest and quick passwords."""

import os
import tempfile

os.environ["RISERBOOK_VAR_DIR"] = tempfile.mkdtemp(prefix="riserbook-test-")
os.environ["STATIC_MANIFEST"] = "0"
os.environ["EMAIL_URL"] = "memorymail://"

from config.settings import *  # noqa: E402, F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STATIC_ROOT.mkdir(exist_ok=True)  # noqa: F405  # WhiteNoise warns when it is missing

# In memory, SQLite locks whole tables between the threads of a live server; a file takes two
# readers and a writer at once, as in service.
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":  # noqa: F405
    DATABASES["default"]["TEST"] = {"NAME": str(VAR_DIR / "test.sqlite3")}  # noqa: F405
