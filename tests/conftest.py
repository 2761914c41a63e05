"""The world of the tests: an owner with a contractor and an auditor, another owner, five people."""

from types import SimpleNamespace

import pytest


@pytest.fixture(autouse=True)
def _empty_cache():
    from django.core.cache import cache

    cache.clear()


@pytest.fixture
def world(db):
    return make_world()


def make_world() -> SimpleNamespace:
    from tests import factories as make

    owner = make.make_organisation("owner", "Merrow Harbour Authority")
    contractor = make.make_organisation("contractor", "Tidewell Fire Protection")
    auditor = make.make_organisation("auditor", "Corran Assurance")
    other = make.make_organisation("owner", "Saltmarsh Cold Storage")
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
def system(world):
    """A wet system with one cross main, entered by the owner."""
    from tests.factories import make_pipe_run, make_system

    system = make_system(world.site, world.owner, tag="NQ-101")
    make_pipe_run(system, world.owner)
    system.refresh_from_db()
    return system
