"""Commands on a database that is not ready, the upgrade of one that was, and pages before files
were collected."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from registry.serving import upgrade

ROOT = Path(__file__).parents[3]
COMMANDS = (
    ["sweep"], ["backup"], ["rescore"], ["assess", "--system", "NQ-101"], ["first_code"],
)  # fmt: skip


def manage(folder: Path, *words: str) -> subprocess.Popen:
    outside = {"DATABASE_URL", "REDIS_URL", "STATIC_MANIFEST", "DJANGO_SETTINGS_MODULE"}
    env = {name: value for name, value in os.environ.items() if name not in outside}
    return subprocess.Popen(
        [sys.executable, *words], cwd=ROOT, env=env | {"RISERBOOK_VAR_DIR": str(folder)},
        text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip


EACH = """
import contextlib, io, json, os, sys
sys.path.insert(0, os.getcwd())
from manage import main
for words in json.loads(sys.argv[1]):
    sys.argv[1:], said = words, io.StringIO()
    with contextlib.redirect_stderr(said):
        try:
            code = main()
        except SystemExit as ended:
            code = ended.code
    print(json.dumps([words[0], code, said.getvalue()]))
"""


@pytest.mark.thorough
def test_every_command_on_a_database_without_tables_says_what_to_run(tmp_path):
    """The first as a command of its own, the others in one process: each start takes seconds."""
    begun = manage(tmp_path, "manage.py", *COMMANDS[0])
    _, complaint = begun.communicate(timeout=300)
    answered = [[COMMANDS[0][0], begun.returncode, complaint]]
    script = tmp_path / "each.py"
    script.write_text(EACH)
    others = manage(tmp_path, str(script), json.dumps(COMMANDS[1:]))
    said, complaint = others.communicate(timeout=300)
    answered += [json.loads(line) for line in said.splitlines()]
    assert [name for name, _, _ in answered] == [words[0] for words in COMMANDS], complaint
    for command, code, complaint in answered:
        assert code == 1, command
        assert "python manage.py migrate" in complaint, command
        assert "Traceback" not in complaint, command


SIGN_IN = """
import django; django.setup()
from django.core.management import call_command
from django.test import Client
call_command("migrate", verbosity=0)
page = Client(SERVER_NAME="localhost").get("/sign-in/")
style = page.text.partition('rel="stylesheet" href="')[2].partition('"')[0]
print(page.status_code, Client(SERVER_NAME="localhost").get(style).status_code)
"""


@pytest.mark.thorough
def test_the_sign_in_works_before_files_were_collected(tmp_path, monkeypatch):
    monkeypatch.setenv("LOG_LEVEL", "ERROR")
    script = tmp_path / "sign_in.py"
    head = "import os, sys; sys.path.insert(0, os.getcwd())\n"
    script.write_text(
        head + "os.environ.update(DJANGO_SETTINGS_MODULE='config.settings')" + SIGN_IN
    )
    said, complaint = manage(tmp_path / "var", str(script)).communicate(timeout=300)
    assert said.split() == ["200", "200"], complaint


@pytest.mark.parametrize(("missing", "expected"), [(2, ["backup", "migrate"]), (0, ["migrate"])])
def test_an_upgrade_of_a_book_begins_with_a_backup(db, monkeypatch, missing, expected):
    called = []
    monkeypatch.setattr(upgrade, "pending_migrations", lambda: missing)
    monkeypatch.setattr(upgrade, "call_command", lambda name, **facts: called.append(name))
    upgrade.migrate(lambda words: None)
    assert called == expected
