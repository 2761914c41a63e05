"""Answers are kept for the next file of the same columns, and words for every file of the owner."""

from datetime import timedelta

from django.core.files.uploadedfile import SimpleUploadedFile

from registry.imports import jobs
from registry.imports.answers import Answers
from registry.models import ImportShape

from .conftest import NOW

HEADS = "Where,Nr,Sort,Pipe role,Material,Sch,Size,Length,Installed"
ROW = "Pier,P-{n},wet,riser,GX,40,4,{n},2001"
ANSWERS = Answers(
    columns={"Where": "site", "Nr": "tag", "Sort": "kind"}, length_unit="ft",
    words={"material:gx": "galvanized_steel"}, sheet=None,
)  # fmt: skip


def upload(world, text, owner=None, name="list.csv"):
    return jobs.receive(
        owner=owner or world.owner_organisation, uploaded_by=world.owner,
        upload=SimpleUploadedFile(name, text.encode()), now=NOW + timedelta(days=1),
    )  # fmt: skip


def test_the_next_file_of_these_columns_needs_no_answer(world):
    first = upload(world, f"{HEADS}\n{ROW.format(n=10)}\n")
    assert first.outcome["new"] == 0
    jobs.answer(first, ANSWERS)
    assert first.outcome["new"] == 1
    next_one = upload(world, f"{HEADS},Extra\n{ROW.format(n=11)},x\n{ROW.format(n=12)},y\n")
    assert next_one.outcome["new"] == 2
    assert ImportShape.objects.count() == 1


def test_words_are_known_in_files_of_other_columns_and_to_this_owner_alone(world):
    jobs.answer(upload(world, f"{HEADS}\n{ROW.format(n=10)}\n"), ANSWERS)
    other = "Site,System tag,Type,Pipe role,Material,Sch,Size,Length (m),Installed"
    text = f"{other}\n{ROW.format(n=11)}\n"
    assert upload(world, text).outcome["new"] == 1
    assert upload(world, text, owner=world.other_owner).outcome["new"] == 0
