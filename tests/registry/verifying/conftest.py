import pytest
from django.core.files.storage import default_storage

from tests.kept import Kept
from tests.registry.verifying.book import make_book
from tests.scheduling.recurring_world import JPEG

KEPT = Kept(make_book)


@pytest.fixture
def book(world):
    book = KEPT(world)
    for row in book.done.attachments.all():  # rows are put back; files are on the disk
        with default_storage.open(row.stored_as, "wb") as file:
            file.write(JPEG)
    return book
