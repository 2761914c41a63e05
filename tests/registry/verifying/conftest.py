import pytest

from tests.kept import Kept
from tests.registry.verifying.book import make_book, write_files

KEPT = Kept(make_book)


@pytest.fixture
def book(world):
    book = KEPT(world)
    write_files(book)
    return book
