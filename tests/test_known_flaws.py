"""What is said of known flaws: found, none, and where nobody could be asked."""

import json

import pytest

from tests import known_flaws
from tests.known_flaws import judge

FLAW = {"id": "PYSEC-0000-1", "fix_versions": ["2.1"]}


def told(*packages):
    return json.dumps({"dependencies": list(packages)})


@pytest.mark.parametrize(
    ("found", "complaint", "code", "words"),
    [
        (told({"name": "a", "version": "1", "vulns": []}), "", 0, "0 of the 1 packages"),
        (told({"name": "a", "version": "2", "vulns": [FLAW]}), "", 1, "a 2: PYSEC-0000-1"),
        (told({"name": "a", "skip_reason": "?"}), "", 0, "NOT KNOWN of 1"),
        ("", "Connection refused", 0, "NOT KNOWN, the source could not be reached"),
        ("<html>", "", 0, "NOT KNOWN"),
    ],
)
def test_what_is_said(capsys, found, complaint, code, words):
    assert judge("requirements.txt", found, complaint) == code
    assert words in capsys.readouterr().out


def test_ci_asks_nobody(monkeypatch, capsys):
    monkeypatch.setenv("CI", "1")
    monkeypatch.setattr(known_flaws, "ask", lambda name: pytest.fail("asked"))
    assert known_flaws.main() == 0
    assert "not asked in CI" in capsys.readouterr().out
