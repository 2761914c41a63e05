"""The account after a fault: every follow-up is there once, and everybody was told once."""

from collections import Counter

TECHNICIANS = 3
FAR_AHEAD = 3600
"""Seconds: past every wait and every lease. Nobody else may be sending meanwhile, as the claims of
such a clock look wrong to others."""


def assert_whole(book, systems: int, *deeds: str) -> dict:
    """After these deeds, and when all has been sent: one order a system, and each technician told
    of it once, in the book and in the mailbox."""
    late = [f"{deed} {FAR_AHEAD}" for deed in deeds]
    found = book.deed(*late, f"send {2 * FAR_AHEAD}", "counts")
    print("counts:", found, "mails:", len(book.post.taken))
    assert found["tasks"] == systems
    assert (found["doubled"], found["untold"]) == (0, 0)
    assert found["messages"] == systems * TECHNICIANS
    assert found["states"] == {"sent": systems * TECHNICIANS}, found["errors"]
    assert_no_mail_twice(book)
    return found


def assert_no_mail_twice(book) -> None:
    assert max(Counter(book.post.keys()).values()) == 1
    told: Counter[tuple[str, str]] = Counter()
    for mail in book.post.taken:
        text = mail.get_payload(0).get_payload(decode=True).decode()
        told.update((mail["To"], word) for word in text.split() if "/tasks/" in word)
    assert max(told.values()) == 1
