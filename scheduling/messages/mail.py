"""One mail to one person: written at the moment of sending, of what they may see at that moment."""

import smtplib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from email.utils import parseaddr
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext, ngettext

from registry.models import User
from registry.words.told.retelling import retold
from scheduling.follow_ups.protection_words import protection_line
from scheduling.messages.causes import REPORT_KEY, RULE_KEY
from scheduling.messages.chain_heads import heads_file
from scheduling.messages.digest import digest_of
from scheduling.messages.links import absolute, unsubscribe_headers, unsubscribe_link
from scheduling.messages.outbox import Parcel
from scheduling.models import Message, ReportBatch, RuleFailure, Task
from scheduling.orders.due_words import due_words
from scheduling.rules.cautions import WHO_DECIDES

MOST_ATTACHED = 5_000_000
"""A larger report is fetched from its page: many mail servers refuse it."""
LISTED = 50
"""Follow-ups named in one mail; the page shows the rest."""


@dataclass(frozen=True)
class MailDraft:
    """A mail to be, and the messages that turned out to be needed no more."""

    subject: str
    context: dict[str, Any]
    needless: list[Message] = field(default_factory=list)
    files: Sequence[tuple[str, str | bytes, str]] = field(default_factory=list)


def draft(parcel: Parcel, now: datetime) -> MailDraft | None:
    """None when nothing of it is worth a mail any more."""
    person = parcel.first.person
    assert person is not None
    return DRAFTS[parcel.first.kind](parcel, person, now)


def send(parcel: Parcel, drafted: MailDraft) -> None:
    message_of(parcel, drafted).send()


def message_of(parcel: Parcel, drafted: MailDraft) -> EmailMultiAlternatives:
    person, kind = parcel.first.person, parcel.first.kind
    assert person is not None
    link = unsubscribe_link(person, kind)
    context = drafted.context | {
        "person": person,
        "subject": drafted.subject,
        "kind": Message.Kind(kind).label.lower(),
        "unsubscribe": link,
        "preferences": absolute(reverse("scheduling:messages")),
        "who_decides": retold(WHO_DECIDES),
    }
    mail = EmailMultiAlternatives(
        subject=drafted.subject,
        body=render_to_string(f"scheduling/mail/{kind}.txt", context),
        to=[person.email],
        headers={"Message-ID": message_id(parcel), **unsubscribe_headers(link)},
    )
    mail.attach_alternative(render_to_string(f"scheduling/mail/{kind}.html", context), "text/html")
    for name, content, mimetype in drafted.files:
        mail.attach(name, content, mimetype)
    return mail


def message_id(parcel: Parcel) -> str:
    """Of the parcel, not of the attempt: a repeat after a crash can be known as one."""
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or "localhost"
    return f"<{parcel.key}@{domain}>"


def _draft_assignment(parcel: Parcel, person: User, now: datetime) -> MailDraft | None:
    theirs = Task.objects.open().told_to(person)
    return _draft_tasks(parcel, person, now, theirs, gettext("given to you"))


def _draft_escalation(parcel: Parcel, person: User, now: datetime) -> MailDraft | None:
    return _draft_tasks(parcel, person, now, Task.objects.overdue(now), gettext("late"))


def _draft_tasks(parcel: Parcel, person: User, now: datetime, live, what: str) -> MailDraft | None:
    asked = [message.task_id for message in parcel.messages]
    tasks = list(live.filter(pk__in=asked).visible_to(person).with_place().with_protection())
    if not tasks:
        return None
    tasks.sort(key=lambda task: not task.work.is_about_protection)
    kept = {task.pk for task in tasks}
    context = {
        "lines": [_line(task, now) for task in tasks[:LISTED]],
        "count": len(tasks),
        "more": max(0, len(tasks) - LISTED),
        "work": absolute(reverse("scheduling:work")),
        "cautions": sorted({retold(task.work.caution) for task in tasks if task.work.caution}),
    }
    needless = [message for message in parcel.messages if message.task_id not in kept]
    return MailDraft(_subject(tasks, what), context, needless)


def _subject(tasks: list[Task], what: str) -> str:
    first = tasks[0]
    if len(tasks) == 1:
        return _one_line(
            f"{retold(first.title)}, {first.system.tag}, {first.system.site.name}: {what}"
        )
    return gettext("{count} follow-ups {what}").format(count=len(tasks), what=what)


def _one_line(text: str) -> str:
    """A header is one line, whatever stands in a tag."""
    return " ".join(text.split())


def _line(task: Task, now: datetime) -> dict[str, Any]:
    system = task.system
    return {
        "title": retold(task.title),
        "system": system.tag,
        "place": ", ".join(str(part) for part in (system.building, system.site) if part),
        "due": due_words(task, now),
        "for": task.assigned_to,
        "why": retold(task.why),
        "protection": retold(protection_line(task)),
        "incomplete": system.incomplete_words,
        "link": absolute(task.get_absolute_url()),
    }


def _draft_digest(parcel: Parcel, person: User, now: datetime) -> MailDraft | None:
    digest = digest_of(person, now)
    if digest is None:
        return None
    files = [heads_file(person, now)] if digest.heads.is_attached else []
    return MailDraft(digest.subject, {"digest": digest}, files=files)


def _draft_job(parcel: Parcel, person: User, now: datetime) -> MailDraft | None:
    said = [message.body for message in parcel.messages]
    subject = ngettext(
        "A job of the book is given up", "%(count)d jobs of the book are given up", len(said)
    ) % {"count": len(said)}
    context = {"said": said, "jobs": absolute(reverse("scheduling:jobs"))}
    return MailDraft(_one_line(subject), context)


def _draft_verdict(parcel: Parcel, person: User, now: datetime) -> MailDraft | None:
    said = [line for message in parcel.messages for line in message.body.splitlines()]
    subject = gettext("The book does not agree with its records")
    return MailDraft(subject, {"said": said, "verdict": absolute(reverse("scheduling:jobs"))})


def _draft_package(parcel: Parcel, person: User, now: datetime) -> MailDraft | None:
    links = [message.body for message in parcel.messages]
    subject = ngettext(
        "Your package of records", "Your %(count)d packages of records", len(links)
    ) % {"count": len(links)}
    return MailDraft(subject, {"links": links})


def _draft_rule(parcel: Parcel, person: User, now: datetime) -> MailDraft | None:
    """Of those that have not been applied since, to systems that the reader may see, or looks
    after with the whole book."""
    standing = (
        RuleFailure.objects.all() if person.is_staff else RuleFailure.objects.visible_to(person)
    )
    keys = {f"{RULE_KEY}{pk}" for pk in standing.values_list("pk", flat=True)}
    told = [message for message in parcel.messages if message.cause_key in keys]
    if not told:
        return None
    subject = ngettext(
        "A rule could not be applied", "%(count)d rules could not be applied", len(told)
    ) % {"count": len(told)}
    context = {
        "said": [message.body for message in told],
        "jobs": absolute(reverse("scheduling:jobs")),
    }
    needless = [message for message in parcel.messages if message not in told]
    return MailDraft(_one_line(subject), context, needless)


def _draft_report(parcel: Parcel, person: User, now: datetime) -> MailDraft | None:
    """With the file where it is small; none of those whose systems the reader may not see now."""
    keys = {message.cause_key.removeprefix(REPORT_KEY): message for message in parcel.messages}
    batches = ReportBatch.objects.filter(uuid__in=keys, person=person).order_by("pk")
    told = [batch for batch in batches if batch.is_for(person)]
    if not told:
        return None
    kept = {str(batch.uuid) for batch in told}
    small = [batch for batch in told if batch.file and batch.bytes <= MOST_ATTACHED]
    files: list[tuple[str, str | bytes, str]] = []
    for batch in small:
        with batch.file.open("rb") as file:
            files.append((batch.file_name, file.read(), batch.content_type))
    subject = ngettext("Your report", "Your %(count)d reports", len(told)) % {"count": len(told)}
    context = {
        "batches": told,
        "attached": len(files),
        "kept": absolute(reverse("reports:kept")),
    }
    needless = [message for key, message in keys.items() if key not in kept]
    return MailDraft(subject, context, needless, files)


DRAFTS: dict[str, Callable[[Parcel, User, datetime], MailDraft | None]] = {
    Message.Kind.ASSIGNMENT: _draft_assignment,
    Message.Kind.ESCALATION: _draft_escalation,
    Message.Kind.DIGEST: _draft_digest,
    Message.Kind.JOB: _draft_job,
    Message.Kind.VERDICT: _draft_verdict,
    Message.Kind.PACKAGE: _draft_package,
    Message.Kind.RULE: _draft_rule,
    Message.Kind.REPORT: _draft_report,
}


def is_permanent(error: Exception) -> bool:
    """The server will say the same tomorrow: no such mailbox, or it refuses the mail itself."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return all(500 <= code < 600 for code, _ in error.recipients.values())
    return isinstance(error, smtplib.SMTPDataError) and 550 <= error.smtp_code < 560
