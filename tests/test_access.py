"""Every address of the book against every kind of person, so that a new one cannot be forgotten.

Each address is named here with the right it asks for; an address without a line fails the first
test. What each right means for each person is written once, in `MEANING`.
"""

import pytest
from django.db import transaction
from django.urls import URLPattern, get_resolver, reverse

from tests.conftest import make_world
from tests.world_objects import make_objects

OK, REFUSED, MISSING, SIGN_IN = "ok", 403, 404, "sign in"
FORM_TO_MEND = 422  # the empty form these tests send, given back with its errors

# right -> person -> what they get
MEANING = {
    "read": {
        "owner": OK, "technician": OK, "viewer": OK, "auditor": OK, "stranger": MISSING,
        "nobody": SIGN_IN,
    },
    "record": {
        "owner": OK, "technician": OK, "viewer": REFUSED, "auditor": REFUSED,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "manage": {
        "owner": OK, "technician": REFUSED, "viewer": REFUSED, "auditor": REFUSED,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "manage own": {  # no row yet: a manager of any owner may, for that owner
        "owner": OK, "technician": REFUSED, "viewer": REFUSED, "auditor": REFUSED,
        "stranger": OK, "nobody": SIGN_IN,
    },
    "mine": {  # a row that belongs to the owner's manager personally
        "owner": OK, "technician": MISSING, "viewer": MISSING, "auditor": MISSING,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "import": {  # the owner's own affair: others are not told of it
        "owner": OK, "technician": MISSING, "viewer": REFUSED, "auditor": MISSING,
        "stranger": MISSING, "nobody": SIGN_IN,
    },
    "signed in": {
        "owner": OK, "technician": OK, "viewer": OK, "auditor": OK, "stranger": OK,
        "nobody": SIGN_IN,
    },
    "public": dict.fromkeys(("owner", "technician", "viewer", "auditor", "stranger", "nobody"), OK),
}  # fmt: skip

# address -> method -> right
ADDRESSES = {
    "registry:sign-in": {"get": "public", "post": "public"},
    "registry:sign-out": {"post": "signed in"},
    "registry:account": {"get": "signed in", "post": "signed in"},
    "registry:password": {"get": "signed in", "post": "signed in"},
    "registry:echo": {"get": "signed in"},
    "registry:site-new": {"get": "manage own", "post": "manage own"},
    "registry:site": {"get": "read"},
    "registry:site-edit": {"get": "manage", "post": "manage"},
    "registry:building-new": {"get": "manage", "post": "manage"},
    "registry:building-edit": {"get": "manage", "post": "manage"},
    "registry:contract-new": {"get": "manage", "post": "manage"},
    "registry:contract-edit": {"get": "manage", "post": "manage"},
    "registry:system-new": {"get": "manage", "post": "manage"},
    "registry:system": {"get": "read"},
    "registry:system-edit": {"get": "manage", "post": "manage"},
    "registry:pipe-new": {"get": "manage", "post": "manage"},
    "registry:pipe-correct": {"get": "manage", "post": "manage"},
    "registry:fitting-new": {"get": "manage", "post": "manage"},
    "registry:fitting-edit": {"get": "manage", "post": "manage"},
    "registry:record-choose": {"get": "record"},
    "registry:record-new": {"get": "record", "post": "record"},
    "registry:record": {"get": "read"},
    "registry:record-correct": {"get": "record", "post": "record"},
    "registry:record-withdraw": {"get": "record", "post": "record"},
    "registry:run-plan": {"get": "read", "post": "record"},
    "registry:drain-down": {"get": "read", "post": "record"},
    "registry:run": {"get": "read"},
    "registry:run-step": {"post": "record"},
    "registry:run-stop": {"post": "record"},
    "registry:run-correct": {"get": "record", "post": "record"},
    "registry:import-new": {"get": "manage own", "post": "manage own"},
    "registry:import": {"get": "import", "post": "import"},
    "registry:import-load": {"post": "import"},
    "registry:import-bad-rows": {"get": "import"},
    "scheduling:work": {"get": "signed in"},
    "scheduling:task": {"get": "read"},
    "scheduling:feeds": {"get": "signed in"},
    "scheduling:feed-new": {"post": "signed in"},
    "scheduling:feed-revoke": {"get": "mine", "post": "mine"},
    "scheduling:feed": {"get": "public"},
    "scheduling:due": {"get": "signed in"},
    "scheduling:library": {"get": "signed in"},
    "scheduling:library-owner": {"get": "read"},
    "scheduling:library-new": {"get": "manage", "post": "manage"},
    "scheduling:library-row": {"get": "manage", "post": "manage"},
    "scheduling:library-restore": {"post": "manage"},
    "scheduling:site-edition": {"get": "read", "post": "manage"},
    "scheduling:site-edition-end": {"post": "manage"},
    "scheduling:site-winter": {"get": "manage", "post": "manage"},
    "scheduling:schedule": {"get": "read"},
    "scheduling:schedule-answers": {"get": "manage", "post": "manage"},
    "scheduling:sprinklers-new": {"get": "manage", "post": "manage"},
    "scheduling:sprinklers-edit": {"get": "manage", "post": "manage"},
    "scheduling:last-done": {"get": "manage", "post": "manage"},
    "scheduling:occurrence-complete": {"get": "record", "post": "record"},
    "scheduling:occurrence-skip": {"get": "record", "post": "record"},
    "scheduling:inspection": {"get": "read"},
    "scheduling:inspection-withdraw": {"get": "record", "post": "record"},
    "scheduling:attachment": {"get": "read"},
    "scheduling:impairments": {"get": "read"},
    "scheduling:impairment-start": {"get": "record", "post": "record"},
    "scheduling:impairment-end": {"get": "record", "post": "record"},
    "reports:portfolio": {"get": "signed in"},
    "reports:ledger": {"get": "read"},
    "reports:ledger-csv": {"get": "read"},
    "reports:audit": {"get": "signed in"},
    "reports:audit-csv": {"get": "signed in"},
    "reports:certificate": {"get": "read"},
}

DATA = {"registry:run-step": {"token": "purged-1"}}


def _walk(patterns, namespace=""):
    for entry in patterns:
        if isinstance(entry, URLPattern):
            yield f"{namespace}:{entry.name}" if namespace else entry.name
        elif entry.namespace != "admin":
            yield from _walk(entry.url_patterns, entry.namespace or namespace)


def test_every_address_says_who_may_use_it():
    assert set(_walk(get_resolver().url_patterns)) == set(ADDRESSES)


@pytest.fixture(scope="module")
def made(django_db_setup, django_db_blocker):
    """World and objects, made once; each test works in a savepoint within this transaction."""
    with django_db_blocker.unblock(), transaction.atomic():
        world = make_world()
        yield world, make_objects(world)
        transaction.set_rollback(True)


@pytest.fixture
def world(made, db):
    return made[0]


@pytest.fixture
def objects(made, db):
    return made[1]


CASES = [
    pytest.param(name, right, method, person, id=f"{name}-{method}-{person}")
    for name, rights in ADDRESSES.items()
    for method, right in rights.items()
    for person in MEANING[right]
]


@pytest.mark.parametrize(("name", "right", "method", "person"), CASES)
def test_each_person_gets_what_their_right_gives(
    client, world, objects, name, right, method, person
):
    if person != "nobody":
        client.force_login(getattr(world, person))
    address = reverse(name, kwargs=objects.get(name, {}))
    response = getattr(client, method)(address, DATA.get(name))
    response.close()
    expected = MEANING[right][person]
    if expected == SIGN_IN:
        assert response.status_code == 302
        assert response["Location"].startswith(reverse("registry:sign-in"))
    elif expected == OK:
        assert response.status_code < 400 or response.status_code == FORM_TO_MEND
    else:
        assert response.status_code == expected


LISTS = (
    "reports:portfolio", "reports:audit", "reports:audit-csv", "scheduling:work", "scheduling:due",
)  # fmt: skip


@pytest.mark.parametrize("name", LISTS)
def test_lists_show_a_stranger_nothing_of_somebody_elses_book(client, world, objects, name):
    client.force_login(world.owner)
    ours = b"".join(client.get(reverse(name)))
    client.force_login(world.stranger)
    theirs = b"".join(client.get(reverse(name)))
    assert b"NQ-101" in ours
    assert b"NQ-101" not in theirs
    assert b"North Quay" not in theirs


@pytest.mark.parametrize("person", ["owner", "technician", "viewer", "auditor", "stranger"])
def test_the_keepers_admin_is_closed_to_everybody_else(client, world, person):
    client.force_login(getattr(world, person))
    response = client.get(reverse("admin:index"))
    assert response.status_code == 302
    assert reverse("admin:login") in response["Location"]
