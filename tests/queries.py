"""How many queries a page costs."""

from django.db import connection
from django.test.utils import CaptureQueriesContext


def queries_of(client, url: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert client.get(url).status_code == 200
    return len(captured)
