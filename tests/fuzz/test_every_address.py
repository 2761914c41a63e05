"""Every address as every person, with whatever can be sent: no error of the server comes of it.

`make fuzz MINUTES=10 SEED=1` repeats a run. Each request is rolled back, so none builds on another.
"""

import os
import sys
import time
from collections import Counter
from copy import deepcopy
from http.cookies import SimpleCookie

import pytest
from django.core.signals import got_request_exception, request_finished
from django.db import close_old_connections, transaction
from django.test import Client
from django.urls import NoReverseMatch, reverse

from tests.conftest import make_world
from tests.fuzz.values import METHODS, Values
from tests.test_access import ADDRESSES, PEOPLE, _signed_in
from tests.world_objects import make_objects

MINUTES = float(os.environ.get("MINUTES", "10"))
SEED = int(os.environ.get("SEED", "1"))


class Fuzzer:
    def __init__(self, values: Values):
        world = make_world()
        self.values, self.objects = values, make_objects(world)
        self.cookies = {one: _signed_in(getattr(world, one)) for one in PEOPLE}
        self.cookies["nobody"] = SimpleCookie()
        self.forms: dict[str, dict] = {}
        self.statuses: Counter[int] = Counter()
        self.reached: Counter[str] = Counter()
        self.faults: list[str] = []
        self.raised: list[BaseException] = []

    def client(self, person: str) -> Client:
        client = Client(raise_request_exception=False)
        client.cookies = deepcopy(self.cookies[person])
        return client

    def note(self, sender, request=None, **facts) -> None:
        self.raised.append(sys.exc_info()[1])

    def one(self) -> None:
        name = self.values.random.choice(list(ADDRESSES))
        person = self.values.random.choice([*PEOPLE, "owner", "owner", "technician", "nobody"])
        kept = self.objects.get(name, {})
        arguments = {key: self.values.argument(value) for key, value in kept.items()}
        try:
            address = reverse(name, kwargs=arguments)
        except NoReverseMatch:
            address = reverse(name, kwargs=kept)
        method = self.values.random.choice(METHODS)
        self.raised.clear()
        with transaction.atomic():
            response = self.ask(name, address, method, person)
            transaction.set_rollback(True)
        self.statuses[response.status_code] += 1
        self.reached[name] += 1
        if response.status_code >= 500:
            why = repr(self.raised[-1]) if self.raised else ""
            said = f"{response.status_code} {method} {name} {arguments} as {person}: {why}"
            self.faults.append(said[:700])

    def ask(self, name: str, address: str, method: str, person: str):
        client, headers = self.client(person), self.values.headers()
        query = self.values.query()
        if method in ("get", "head"):
            response = getattr(client, method)(address, query, headers=headers)
        elif method == "post" and self.values.random.random() < 0.85:
            typed = self.values.mutated(self.form_of(name))
            response = client.post(address, typed, query_params=query, headers=headers)
        elif method == "trace":
            response = client.trace(address, headers=headers)
        else:
            body, kind = self.values.raw_body()
            send = getattr(client, method)
            response = send(address, body, content_type=kind, headers=headers)
        if response.streaming and method != "head":
            b"".join(response)
        request_finished.disconnect(close_old_connections)  # the one that all are rolled back in
        response.close()
        request_finished.connect(close_old_connections)
        return response

    def form_of(self, name: str) -> dict:
        """What the owner's page would send, or else the contractor's, as it comes filled in."""
        if name not in self.forms:
            self.forms[name] = {}
            for person in ("owner", "technician"):
                found = self._form_on(name, person)
                if found:
                    self.forms[name] = found
                    break
        return self.forms[name]

    def _form_on(self, name: str, person: str) -> dict:
        if "get" not in ADDRESSES[name]:
            return {}
        address = reverse(name, kwargs=self.objects.get(name, {}))
        context = self.client(person).get(address).context
        form = context and context.get("form")
        if not form or not hasattr(form, "fields"):
            return {}
        values = {form.add_prefix(key): form[key].value() for key in form.fields}
        return {key: _plain(value) for key, value in values.items()}


def _plain(value):
    if value is None or value is False:
        return ""
    if isinstance(value, (list, tuple)):
        return [_plain(one) for one in value]
    return getattr(value, "pk", value)


# Now and then a file that went out is closed by the collector alone; it is no error of the server.
@pytest.mark.filterwarnings("default::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.django_db
def test_no_error_of_the_server(capsys):
    fuzzer = Fuzzer(Values(SEED))
    got_request_exception.connect(fuzzer.note)
    ends = time.monotonic() + 60 * MINUTES
    try:
        while time.monotonic() < ends:
            fuzzer.one()
    finally:
        got_request_exception.disconnect(fuzzer.note)
    with capsys.disabled():
        count, reached = sum(fuzzer.statuses.values()), len(fuzzer.reached)
        print(f"\nseed {SEED}: {count} requests to {reached} of {len(ADDRESSES)} addresses")
        print(dict(sorted(fuzzer.statuses.items())))
        print("\n".join(sorted(set(fuzzer.faults))))
    assert sorted(set(fuzzer.faults)) == []
