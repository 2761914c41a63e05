"""What a fuzzer puts into addresses, fields, headers and bodies."""

import json
from random import Random
from typing import Any
from uuid import UUID

from django.core.files.uploadedfile import SimpleUploadedFile

TEXTS = [
    "", " ", "0", "-1", "1", "00", "9" * 19, "9" * 40, "1e400", "nan", "inf", "-0.0", "1,5", "½",
    "true", "null", "None", "[]", "{}", "../../etc/passwd", "..%2f", "\x00", "a\x00b", "\n", "\r\n",
    "a\r\nX-A: b", "\t", "\x1b[2J", "\u202e", "\ufeff", "é", "東京", "𝄞", "İ", "ß" * 200,
    "'", '"', "' OR 1=1 --", "<script>alert(1)</script>", "{{7*7}}", "{% load x %}", "${7*7}",
    "%s%n", "=1+1", "@SUM(A1)", "a" * 300, "a" * 9000, "2026-02-30", "2026-06-01", "0000-00-00",
    "9999-12-31", "10000-01-01", "2026-06-01T25:61", "2026-06-01 10:00", "1970-01-01 00:00",
    "Europe/London", "Mars/Olympus", "30 psi", "30 bar", "-400 psi", "1e308 psi", "5 ' 3", "98 %",
    "0.9 % O2", "manager", "yes", "no", "all", "on", "asc", "-pk", "pk", "__class__",
    "00000000-0000-0000-0000-000000000000", "x@x.example", "http://127.0.0.1/", "https://[::1]/",
    "https://hooks.averhythe.example/", "http://[", "javascript:alert(1)", "/sign-in/",
    "//x.example",
]  # fmt: skip
NAMES = [
    "page", "sort", "at", "as_of", "q", "next", "system", "site", "kind", "lang", "run", "since",
    "until", "try", "again", "purge", "select", "action", "task", "row", "token", "client_key",
    "occurred_at", "organisation", "dimension", "unit", "name", "atmosphere_pa", "what", "told",
    "day", "week", "month", "state", "gauge", "seen", "note", "sent", "keep", "form-TOTAL_FORMS",
]  # fmt: skip
METHODS = ["get"] * 8 + ["post"] * 9 + ["head", "put", "patch", "delete", "options", "trace"]
HEADERS = ["X-Kept-By", "X-Request-ID", "Accept-Language", "HX-Request", "If-None-Match",
           "If-Modified-Since", "Range", "Accept", "Referer", "Origin", "HX-Target",
           "X-Requested-With", "Accept-Encoding", "Host", "Cookie"]  # fmt: skip
FILES = [
    b"", b"\x00" * 50, b"PK\x03\x04" + b"\xff" * 90, b"%PDF-1.4\n%%EOF", b"a,b\n1,2\n",
    b"\xff\xd8\xff\xe0" + b"\x00" * 40, b"\x89PNG\r\n\x1a\n" + b"\x00" * 40, b"{}", b"\xff\xfe\x00",
    b"Site,System tag\n=1+1,\x00\n",
]  # fmt: skip


class Values:
    """One stream of them from a seed, so that a run can be had again."""

    def __init__(self, seed: int):
        self.random = Random(seed)

    def text(self) -> str:
        if self.random.random() < 0.15:
            return "".join(chr(self.random.choice((self.random.randrange(128),
                           self.random.randrange(0xD7FF)))) for _ in range(12))  # fmt: skip
        return self.random.choice(TEXTS)

    def argument(self, kept: Any) -> Any:
        """In the place of one that an address takes; of its type, or it would reach nobody."""
        if self.random.random() < 0.6:
            return kept
        if isinstance(kept, UUID):
            return UUID(int=self.random.getrandbits(128))
        if isinstance(kept, int):
            return self.random.choice((0, 1, kept + 1, 2**31, 2**63 - 1, 2**63, 10**30))
        return self.text().replace("/", "").replace("\n", "") or "x"

    def query(self) -> dict[str, str]:
        count = self.random.choice((0, 0, 1, 2, 4))
        return {self.random.choice(NAMES): self.text() for _ in range(count)}

    def headers(self) -> dict[str, str]:
        if self.random.random() < 0.75:
            return {}
        name = self.random.choice(HEADERS)
        said = "".join(sign for sign in self.text() if 32 <= ord(sign) < 256)
        return {name: said[:300]}

    def mutated(self, typed: dict[str, Any]) -> dict[str, Any]:
        """The fields of a form with a few of them changed, left out or sent twice."""
        sent = dict(typed)
        names = list(typed) or NAMES
        for _ in range(self.random.choice((0, 1, 1, 2, 3, 8))):
            name = self.random.choice(names if self.random.random() < 0.9 else NAMES)
            way = self.random.random()
            if way < 0.1:
                sent.pop(name, None)
            elif way < 0.2:
                sent[name] = [self.text(), self.text()]
            elif way < 0.28:
                sent[name] = SimpleUploadedFile("f.csv", self.random.choice(FILES))
            else:
                sent[name] = self.text()
        return sent

    def raw_body(self) -> tuple[bytes, str]:
        kinds = ("application/json", "multipart/form-data; boundary=x", "text/plain", "",
                 "application/x-www-form-urlencoded", "multipart/form-data")  # fmt: skip
        bodies = (
            json.dumps({self.random.choice(NAMES): self.text()}).encode(),
            b"--x\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\nb", b"\xff\xfe=%zz&a=%00",
            b"a=1&" * 1500, b"[" * 2000, b"",
        )  # fmt: skip
        return self.random.choice(bodies), self.random.choice(kinds)
