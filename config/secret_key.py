"""The book's own secret key: made at the first start, kept in `var/`, backed up with the book."""

import os
import secrets
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from registry.backup.key import settle

NAME = "secret-key"
PUBLISHED = "embedded-default-key-for-a-book-on-one-machine-set-SECRET_KEY-in-service"
"""Stood in the source once; whoever read that could forge every link."""


def secret_key(given: str, folder: Path) -> str:
    if given == PUBLISHED:
        raise ImproperlyConfigured(
            "SECRET_KEY is the key that was published with the source. Leave it unset and the book "
            f"makes one of its own in {folder / NAME}, or set a long random value."
        )
    settle(folder)
    return given or _kept(folder / NAME)


def _kept(path: Path) -> str:
    """Of two processes that start at once, both read what the first has written."""
    if not path.exists():
        draft = path.with_name(f".{NAME}-{os.getpid()}-{secrets.token_hex(4)}")
        try:
            with os.fdopen(
                os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w"
            ) as file:
                file.write(secrets.token_urlsafe(64))
                file.flush()
                os.fsync(file.fileno())
            os.link(draft, path)
        except FileExistsError:
            pass
        except OSError as error:
            raise ImproperlyConfigured(
                f"No secret key can be kept in {path.parent} ({error.strerror}). Make the folder "
                "writable for the book, or set SECRET_KEY."
            ) from error
        finally:
            draft.unlink(missing_ok=True)
    key = path.read_text().strip()
    if len(key) < 50:
        raise ImproperlyConfigured(
            f"{path} holds no key. Put it back from a backup; or remove it, and a new one is made: "
            "everybody signs in again, and each webhook gets a new secret."
        )
    return key
