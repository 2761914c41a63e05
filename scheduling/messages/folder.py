"""Mail of the embedded default: each is a file, whole or not there, and the oldest go."""

import email
import email.policy
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from email.message import EmailMessage
from pathlib import Path
from uuid import uuid4

from django.conf import settings
from django.core.mail.backends.base import BaseEmailBackend

from registry.models import User

MOST = 2_000
SUFFIX = ".eml"


class FolderBackend(BaseEmailBackend):
    def send_messages(self, email_messages) -> int:
        folder = Path(settings.EMAIL_FOLDER)
        folder.mkdir(parents=True, exist_ok=True)
        for message in email_messages:
            _write(folder, message.message().as_bytes())
        _forget_oldest(folder)
        return len(email_messages)


def _write(folder: Path, content: bytes) -> None:
    name = f"{datetime.now(UTC):%Y%m%dT%H%M%S%f}-{uuid4().hex[:8]}"
    draft = folder / f".{name}"
    draft.write_bytes(content)
    os.replace(draft, folder / f"{name}{SUFFIX}")


def _forget_oldest(folder: Path) -> None:
    for path in sorted(folder.glob(f"*{SUFFIX}"))[:-MOST]:
        path.unlink(missing_ok=True)


def is_used() -> bool:
    return settings.EMAIL_BACKEND == "scheduling.messages.folder.FolderBackend"


@dataclass(frozen=True)
class KeptMail:
    name: str
    to: str
    subject: str
    sent: str
    message: EmailMessage

    @property
    def text(self) -> str:
        body = self.message.get_body(("plain",))
        return body.get_content() if body else ""


def mails_to(person: User, most: int) -> list[KeptMail]:
    """A person's own, the newest first; whoever keeps the book sees everybody's."""
    found: list[KeptMail] = []
    for path in sorted(Path(settings.EMAIL_FOLDER).glob(f"*{SUFFIX}"), reverse=True):
        mail = _read(path)
        if mail and _may_see(person, mail):
            found.append(mail)
        if len(found) == most:
            break
    return found


def mail_to(person: User, name: str) -> KeptMail | None:
    """Of a name that came in an address: no path, and nothing that is not theirs."""
    path = Path(settings.EMAIL_FOLDER) / f"{Path(name).name}{SUFFIX}"
    mail = _read(path) if path.is_file() else None
    return mail if mail and _may_see(person, mail) else None


def _may_see(person: User, mail: KeptMail) -> bool:
    return person.is_staff or mail.to.lower() == person.email.lower()


def _read(path: Path) -> KeptMail | None:
    """None for what is no mail: the folder lies open to whoever keeps the machine."""
    try:
        message = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
        facts = {name: str(message[name] or "") for name in ("To", "Subject", "Date")}
    except (OSError, ValueError, LookupError):
        return None
    if not facts["To"]:
        return None
    return KeptMail(path.stem, facts["To"], facts["Subject"], facts["Date"], message)  # type: ignore[arg-type]
