"""Entries of the log of access in words."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext

from registry.models import AccessEntry, Invitation, Membership
from registry.services.access.facts import (
    AUDIT,
    CONTRACT,
    INVITED,
    ROLE,
    SECOND_STEP,
    SHARED,
)

Change = AccessEntry.Change


@dataclass(frozen=True)
class EntryLine:
    at: datetime
    by: str
    what: str


def entry_lines(entries: Iterable[AccessEntry]) -> Iterator[EntryLine]:
    for entry in entries:
        yield EntryLine(entry.at, entry.by_name, WORDS[entry.subject](entry))


def _day(text: str | None) -> str:
    day = date.fromisoformat(text) if text else None
    return f"{day.day} {day:%b %Y}" if day else gettext("further notice")


def _role(entry: AccessEntry) -> str:
    facts = entry.facts
    who = f"{facts['name']} <{facts['email']}>"
    role = Membership.Role(facts["role"]).label.partition(":")[0].lower()
    if entry.change == Change.ENDED:
        return gettext("{who} is no {role} any more: the membership ended.").format(
            who=who, role=role
        )
    state = "" if facts["is_active"] else " " + gettext("The account is switched off.")
    templates = {
        Change.FOUND: gettext("{who} is {role}."),
        Change.GIVEN: gettext("{who} came in as {role}."),
        Change.CHANGED: gettext("{who} is {role} from now on."),
    }
    return templates[Change(entry.change)].format(who=who, role=role) + state


def _second_step(entry: AccessEntry) -> str:
    who = entry.words["who"]
    if entry.change == Change.ENDED:
        return gettext("{who} asks its people for a second step no more.").format(who=who)
    return gettext("{who} asks all its people for a second step.").format(who=who)


def _contract(entry: AccessEntry) -> str:
    words, facts = entry.words, entry.facts
    said = _named(
        gettext("{who} serves {site} of {owner}, {starts} to {ends}."),
        words, starts=_day(facts["starts_on"]), ends=_day(facts["ends_on"]),
    )  # fmt: skip
    return _standing(entry, gettext("Service contract"), said)


def _audit(entry: AccessEntry) -> str:
    words, facts = entry.words, entry.facts
    sites = gettext("all sites") if facts["sites"] is None else ", ".join(words["sites"])
    said = gettext("{who} reads the book of {owner}, {sites}, until {ends}.").format(
        who=words["who"], owner=words["owner"], sites=sites, ends=_day(facts["ends_on"])
    )
    if facts["happened_from"] or facts["happened_before"]:
        said += " " + gettext("Of records, a period only.")
    return _standing(entry, gettext("Audit access"), said)


def _invitation(entry: AccessEntry) -> str:
    facts, words = entry.facts, entry.words
    kind = str(Invitation.Kind(facts["kind"]).label).lower()
    role = Membership.Role(facts["role"]).label.partition(":")[0].lower() if facts["role"] else ""
    whom = f"{words['who']} ({role or kind})"
    if facts["state"] == "accepted":
        by = words.get("accepted_by", "")
        return gettext("The invitation of {whom} was accepted by {by}.").format(whom=whom, by=by)
    if facts["state"] == "withdrawn":
        return gettext("The invitation of {whom} was withdrawn.").format(whom=whom)
    until = datetime.fromisoformat(facts["expires_at"])
    return gettext("{whom} was invited, until {until} UTC.").format(
        whom=whom, until=f"{until.day} {until:%b %Y, %H:%M}"
    )


def _shared(entry: AccessEntry) -> str:
    who = entry.words["who"]
    if entry.change == Change.ENDED:
        return gettext("The address of a package of records for “{who}” was closed.").format(
            who=who
        )
    until = datetime.fromisoformat(entry.facts["expires_at"])
    return gettext("“{who}” got the address of a package of records, until {until} UTC.").format(
        who=who, until=f"{until.day} {until:%b %Y, %H:%M}"
    )


def _named(template: str, words: dict[str, Any], **more: str) -> str:
    return template.format(**words, **more)


def _standing(entry: AccessEntry, noun: str, said: str) -> str:
    return f"{noun}, {Change(entry.change).label}: {said}"


WORDS = {
    ROLE: _role,
    SECOND_STEP: _second_step,
    CONTRACT: _contract,
    AUDIT: _audit,
    INVITED: _invitation,
    SHARED: _shared,
}
