"""The world of the tests: an owner with a contractor and an auditor, another owner, five people."""

import gc
import os
from types import SimpleNamespace

import hypothesis
import pytest

from tests.effort import THOROUGH, is_left_out, many

WORKERS = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items):
    """The workers begin with equal shares in this order, and take from the ends of each other's.

    The longest test begins the first share and those with a browser the second, so that none of
    them is left for the end, and mostly one browser is started. Those of the library that takes
    seconds to load follow the longest, for one process to load it.
    """
    if not THOROUGH:
        left = [item for item in items if is_left_out(item)]
        if left:
            items[0].config.hook.pytest_deselected(items=left)
            items[:] = [item for item in items if item not in set(left)]
    demo, browser, others = [], [], []
    for item in items:
        folder, name = item.path.parent.name, item.path.name
        of = demo if name == "test_demo.py" else browser if folder == "browser" else others
        of.append(item)
    others.sort(key=lambda item: "props_si" not in item.fixturenames)
    share = max(0, len(items) // WORKERS - len(demo))
    items[:] = demo + others[:share] + browser + others[share:]


hypothesis.settings.register_profile("effort", max_examples=many(100))
hypothesis.settings.load_profile("effort")

gc.disable()  # while modules and tests are collected, which stay to the end


def pytest_collection_finish():
    """Looking for garbage among what stays takes a tenth of a run."""
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
    gc.enable()


def as_by_password(request, user, **kwargs):
    """Whoever a test signs in by force has, as in service, just said who they are."""
    from allauth.account.internal.flows.login import (
        get_authentication_records,
        record_authentication,
    )

    if not get_authentication_records(request, user):
        record_authentication(request, user, method="password")


@pytest.fixture(autouse=True, scope="session")
def _signed_in_by_force():
    from django.contrib.auth.signals import user_logged_in

    user_logged_in.connect(as_by_password)


@pytest.fixture(autouse=True)
def _empty_cache():
    from django.core.cache import cache

    cache.clear()


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings, django_db_blocker, tmp_path_factory):
    """pytest-django's, which comes before the test database is made."""
    from django.db import connection

    from tests.databases import Migrated

    if "PYTEST_XDIST_WORKER" not in os.environ:
        yield
        return
    migrated = Migrated(tmp_path_factory.getbasetemp().parent)
    connection.creation.create_test_db = migrated.create_test_db
    yield
    with django_db_blocker.unblock():
        migrated.leave()


@pytest.fixture(scope="session")
def _kept(django_db_setup, django_db_blocker):
    """The world and its system, made once by the services and put back in each test."""
    from django.db import transaction

    from tests.kept import Kept

    kept = SimpleNamespace(world=Kept(make_world), system=Kept(make_first_system))
    with django_db_blocker.unblock(), transaction.atomic():
        kept.system.take(kept.world.take())
        transaction.set_rollback(True)
    return kept


@pytest.fixture
def world(db, _kept):
    return _kept.world.put_back()


def make_world() -> SimpleNamespace:
    from tests import factories as make

    owner = make.make_organisation("owner", "Averhythe Quays")
    contractor = make.make_organisation("contractor", "Pellmoor Fire Protection")
    auditor = make.make_organisation("auditor", "Orvane Assurance")
    other = make.make_organisation("owner", "Dunlore Cold Storage")
    make.let_audit(owner, auditor)
    world = SimpleNamespace(
        owner_organisation=owner,
        contractor=contractor,
        auditor_organisation=auditor,
        other_owner=other,
        owner=make.make_user(owner, "manager", "Olive Manager"),
        technician=make.make_user(contractor, "recorder", "Tam Technician"),
        viewer=make.make_user(owner, "reader", "Vic Viewer"),
        auditor=make.make_user(auditor, "reader", "Ada Auditor"),
        stranger=make.make_user(other, "manager", "Sol Stranger"),
    )
    world.site = make.make_site(owner, contractor, name="North Quay", address="1 Quay Road")
    world.other_site = make.make_site(other, name="Inland Store")
    return world


def _person(name: str):
    @pytest.fixture(name=name)
    def person(world):
        return getattr(world, name)

    return person


owner, technician, viewer, auditor, stranger = (
    _person(name) for name in ("owner", "technician", "viewer", "auditor", "stranger")
)


@pytest.fixture
def site(world):
    return world.site


@pytest.fixture
def system(world, _kept):
    """A wet system with one cross main, entered by the owner."""
    return _kept.system.put_back()


def make_first_system(world: SimpleNamespace):
    from tests.factories import make_pipe_run, make_system

    system = make_system(world.site, world.owner, tag="NQ-101")
    make_pipe_run(system, world.owner)
    system.refresh_from_db()
    return system
