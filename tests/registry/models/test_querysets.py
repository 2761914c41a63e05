"""Who sees, records and manages what: an owner's people, contractors, auditors and strangers."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils import timezone

from registry.access import get_manageable, get_recordable, get_visible
from registry.models import Membership, ServiceContract, Site, System

PEOPLE = ("owner", "technician", "viewer", "auditor", "stranger")


@pytest.mark.parametrize(
    ("method", "allowed"),
    [
        ("visible_to", {"owner", "technician", "viewer", "auditor"}),
        ("recordable_by", {"owner", "technician"}),
        ("manageable_by", {"owner"}),
    ],
)
def test_each_right_reaches_exactly_the_people_it_is_for(world, system, method, allowed):
    for model in (System, Site):
        target = system if model is System else world.site
        reached = {
            name
            for name in PEOPLE
            if getattr(model.objects, method)(getattr(world, name)).filter(pk=target.pk).exists()
        }
        assert reached == allowed


def test_a_contract_that_ended_shows_nothing(world, system):
    ServiceContract.objects.update(ends_on=date(2021, 1, 1))
    assert not System.objects.visible_to(world.technician).exists()


def test_a_contract_that_has_not_begun_shows_nothing(world, system):
    ServiceContract.objects.update(starts_on=date(2999, 1, 1))
    assert not System.objects.visible_to(world.technician).exists()


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Pago_Pago"])
def test_the_first_and_the_last_day_of_a_contract_are_those_at_the_site(world, system, zone):
    Site.objects.filter(pk=world.site.pk).update(time_zone=zone)
    today = timezone.now().astimezone(ZoneInfo(zone)).date()
    day = timedelta(days=1)
    for first, last, sees in (
        (today, today, True),
        (today - day, today - day, False),
        (today + day, today + day, False),
        (today, None, True),
        (today + day, None, False),
    ):
        ServiceContract.objects.update(starts_on=first, ends_on=last)
        assert System.objects.visible_to(world.technician).exists() is sees
        assert ServiceContract.objects.in_force_at(timezone.now()).exists() is sees


def test_one_contractors_ended_contract_does_not_ride_on_anothers_running_one(world, system):
    """Both conditions must hold of the same contract, not of any two."""
    ServiceContract.objects.update(ends_on=date(2021, 1, 1))
    from tests.factories import make_organisation

    ServiceContract.objects.create(
        site=world.site, contractor=make_organisation("contractor"), starts_on=date(2021, 1, 2)
    )
    assert not System.objects.visible_to(world.technician).exists()


def test_a_reading_member_of_a_contractor_sees_but_does_not_record(world, system):
    Membership.objects.filter(user=world.technician).update(role="reader")
    assert System.objects.visible_to(world.technician).exists()
    assert not System.objects.recordable_by(world.technician).exists()


def test_a_manager_of_a_contractor_does_not_manage_the_owners_register(world, system):
    Membership.objects.filter(user=world.technician).update(role="manager")
    assert not System.objects.manageable_by(world.technician).exists()


def test_a_system_reached_by_two_ways_appears_once(world, system):
    Membership.objects.create(
        user=world.technician, organisation=world.owner_organisation, role="reader"
    )
    assert System.objects.visible_to(world.technician).count() == 1


def test_stranger_is_told_it_does_not_exist(world, system):
    for getter in (get_visible, get_recordable, get_manageable):
        with pytest.raises(Http404):
            getter(System, world.stranger, pk=system.pk)


def test_viewer_is_refused_what_only_a_recorder_may_do(world, system):
    with pytest.raises(PermissionDenied):
        get_recordable(System, world.viewer, pk=system.pk)


def test_technician_is_refused_what_only_a_manager_may_do(world, system):
    with pytest.raises(PermissionDenied):
        get_manageable(System, world.technician, pk=system.pk)


def test_nobody_signed_in_sees_nothing(system):
    from django.contrib.auth.models import AnonymousUser

    assert not System.objects.visible_to(AnonymousUser()).exists()
