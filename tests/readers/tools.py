"""Independent calendar readers, run as programs of their own."""

import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
LIBRARY = HERE / "node_modules" / "ical.js"
END = b"END:VCALENDAR\r\n"
CLOCK_ELSEWHERE = "Pacific/Auckland"  # a reader must not lean on the machine's own zone


def need(is_there: object, reason: str) -> None:
    """Skips with the reason, except in the whole check, which skips nothing."""
    if not is_there:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(reason)


def read_with_ical_js(calendar: bytes) -> dict[str, dict[str, Any]]:
    need(shutil.which("node"), "node is missing (Debian: nodejs)")
    need(LIBRARY.is_dir(), "ical.js is missing: npm ci --prefix tests/readers")
    entries = json.loads(_run(["node", str(HERE / "read.mjs")], calendar))
    found = {entry["uid"]: entry for entry in entries}
    assert len(found) == len(entries), "two entries of one name"
    return found


def read_with_sabre(calendar: bytes) -> dict[str, Any]:
    need(shutil.which("php"), "php is missing (Debian: php-cli)")
    need(Path("/usr/share/php/Sabre/VObject").is_dir(), "Debian's php-sabre-vobject is missing")
    return json.loads(_run(["php", str(HERE / "validate.php")], calendar))


def build_libical_reader(folder: Path) -> Path:
    """The program beside this file, built against Debian's libical."""
    need(shutil.which("cc"), "a C compiler is missing (Debian: gcc)")
    need(Path("/usr/include/libical/ical.h").is_file(), "Debian's libical-dev is missing")
    program = folder / "read-ical"
    source = str(HERE / "validate.c")
    subprocess.run(["cc", "-Wall", "-Werror", "-o", program, source, "-lical"], check=True)
    return program


def read_with_libical(program: Path, calendar: bytes) -> tuple[dict[str, dict[str, Any]], int]:
    """The entries by name, and how many errors the library found."""
    *lines, errors = _run([str(program)], calendar).splitlines()
    found = {}
    for line in lines:
        uid, start, end, is_day, status, transp, sequence, summary = line.split("\t")
        found[uid] = {
            "start": int(start), "end": int(end), "is_day": is_day == "1", "status": status,
            "transp": transp, "sequence": int(sequence), "summary": summary,
        }  # fmt: skip
    assert len(found) == len(lines), "two entries of one name"
    return found, int(errors)


class Khal:
    """A person's calendar program, on a folder that is kept like the feed."""

    FORMAT = "{uid}|{start-date}|{start-time}|{end-time}|{title}|{cancelled}|{location}"

    def __init__(self, folder: Path, zone: str):
        need(shutil.which("khal"), "khal is missing (Debian: khal)")
        self.config = folder / "config"
        self.folder = folder / "calendar"
        self.folder.mkdir()
        self.config.write_text(KHAL.format(folder=folder, zone=zone))

    def fetch(self, calendar: bytes) -> None:
        """What a synchroniser leaves in the folder: a file for each entry that there is now."""
        frame, *entries = re.split(rb"(?m)^(?=BEGIN:VEVENT\r$)", calendar.removesuffix(END))
        wanted = {_name(entry): frame + entry + END for entry in entries}
        for file in self.folder.iterdir():
            if file.name not in wanted:
                file.unlink()
        for name, text in wanted.items():
            whole = self.config.with_name("entry")
            whole.write_bytes(text)
            whole.replace(self.folder / name)  # by renaming, or khal sees no change of the folder

    def agenda(self, first: str, days: int) -> dict[str, list[str]]:
        """The lines it shows, by name of the entry, without that name."""
        shown = self._run(
            "list", "--once", "--day-format", "", "--format", self.FORMAT, first, f"{days}d"
        )
        lines = [line.split("|") for line in shown.splitlines() if line]
        assert len({line[0] for line in lines}) == len(lines), "an entry is shown twice"
        return {uid: [word.strip() for word in words] for uid, *words in lines}

    def _run(self, *command: str) -> str:
        return _run(["khal", "-c", str(self.config), *command], b"", TZ="UTC")


def _name(entry: bytes) -> str:
    found = re.search(rb"(?m)^UID:(.+)\r$", entry)
    assert found, "an entry without a name"
    return f"{found[1].decode()}.ics"


def _run(command: list[str], given: bytes, **environment: str) -> str:
    done = subprocess.run(
        command,
        input=given,
        capture_output=True,
        env={"PATH": os.environ["PATH"], "LANG": "C.UTF-8", "TZ": CLOCK_ELSEWHERE, **environment},
        timeout=120,
    )
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout.decode()


KHAL = """
[calendars]
[[work]]
path = {folder}/calendar
[locale]
local_timezone = {zone}
default_timezone = {zone}
timeformat = %H:%M
dateformat = %Y-%m-%d
longdateformat = %Y-%m-%d
datetimeformat = %Y-%m-%d %H:%M
longdatetimeformat = %Y-%m-%d %H:%M
[sqlite]
path = {folder}/khal.db
"""
