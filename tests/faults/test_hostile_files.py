"""Each file in a process of its own, whose memory and time are read afterwards."""

import json
import re
import subprocess
import sys

import pytest
from django.conf import settings

from .hostile_files import HOSTILE, SEVERAL

MOST_MB, MOST_SECONDS = 300, 30
READ = """
import json, sys, time
from django.conf import settings
settings.configure(USE_I18N=False)  # what is refused is said in words
from registry.imports.problems import ImportFileError
from registry.imports.reading import open_book
from tests.benchmarks.scratch import peak_mb
said, began = "", time.process_time()
try:
    with open_book(sys.argv[1]) as book:
        said = f"{sum(1 for sheet in book.sheets for _ in sheet.rows())} rows"
except ImportFileError as error:
    said = str(error)
print(json.dumps({"said": said, "mb": peak_mb(), "seconds": time.process_time() - began}))
"""


def read_apart(path, program: str = READ) -> dict:
    run = subprocess.run(
        [sys.executable, "-c", program, str(path)],
        cwd=settings.BASE_DIR, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr[-2000:]
    return json.loads(run.stdout)


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_workbook_is_refused_in_little_memory_and_time(tmp_path, name):
    make, words = HOSTILE[name]
    path = make(tmp_path / "hostile.xlsx")
    found = read_apart(path)
    assert re.search(words, found["said"]), found
    assert found["mb"] < MOST_MB
    assert found["seconds"] < MOST_SECONDS


@pytest.mark.parametrize(
    ("piece", "times", "words"),
    [("x", 200_000_000, "over 1,048,576 characters"), (",\n", 3_000_000, "over 1,048,576 lines")],
)
def test_a_hostile_csv_file_is_refused_in_little_memory_and_time(tmp_path, piece, times, words):
    path = tmp_path / "hostile.csv"
    with path.open("w") as file:
        for _ in range(times // 100_000):
            file.write(piece * 100_000)
    found = read_apart(path)
    assert words in found["said"]
    assert found["mb"] < MOST_MB


SURVEY = """
import json, os, sys, time
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
import django
django.setup()
from datetime import date
from registry.imports.answers import Answers
from registry.imports.problems import ImportFileError
from registry.imports.survey import survey_table
from registry.imports.table import open_table
from tests.benchmarks.scratch import peak_mb
said, began = "", time.process_time()
try:
    with open_table(sys.argv[1], Answers()) as table:
        said = f"{survey_table(table, answers=Answers(), today=date(2026, 6, 1)).rows} rows"
except ImportFileError as error:
    said = str(error)
print(json.dumps({"said": said, "mb": peak_mb(), "seconds": time.process_time() - began}))
"""


@pytest.mark.parametrize("name", SEVERAL)
def test_sheets_that_are_joined_are_held_in_little_memory_too(tmp_path, name):
    make, words = SEVERAL[name]
    found = read_apart(make(tmp_path / "hostile.xlsx"), SURVEY)
    assert re.search(words, found["said"]), found
    assert found["mb"] < MOST_MB
    assert found["seconds"] < MOST_SECONDS
