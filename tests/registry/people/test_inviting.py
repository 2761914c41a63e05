"""Invited, accepted once, withdrawn, sent again; and what comes of it."""

import re
from datetime import date, timedelta

import pytest
from django.core import mail
from django.urls import reverse
from django.utils import timezone

from registry.models import (
    AuditAccess,
    Invitation,
    Membership,
    Organisation,
    ServiceContract,
    Site,
    User,
)
from registry.models.access import LASTS
from registry.services.access.inviting import MAIL, MOST_A_DAY, invite, link_of
from tests.factories import make_user
from tests.jobs import run_waiting

pytestmark = pytest.mark.django_db
NEW = {"name": "Nell Newcomer", "password": "nine-quiet-herons", "display_units": "si"}


def people(organisation):
    return reverse("registry:people", args=[organisation.pk])


def path_of(invitation):
    return reverse("registry:invitation", args=[invitation.secret])


def made(world, kind="member", email="nell@averhythe.example", **facts):
    facts = {"role": "recorder"} | facts if kind == "member" else facts
    return invite(
        organisation=facts.pop("organisation", world.owner_organisation), kind=kind, email=email,
        invited_by=facts.pop("by", world.owner), now=facts.pop("now", timezone.now()), **facts,
    )  # fmt: skip


def ask(client, world, kind="member", organisation=None, **answers):
    organisation = organisation or world.owner_organisation
    address = reverse("registry:people-invite", args=[organisation.pk, kind])
    return client.post(address, {"email": "Nell@averhythe.example", **answers})


def test_a_manager_invites_and_the_mail_carries_a_link_that_lets_in_once(client, world):
    client.force_login(world.owner)
    page = ask(client, world, role="recorder")
    assert page.status_code == 200
    invitation = Invitation.objects.get()
    assert (invitation.email, invitation.role) == ("nell@averhythe.example", "recorder")
    assert invitation.secret not in page.text  # a server took the mail: nobody else sees the link
    run_waiting(MAIL)
    sent = mail.outbox[0]
    assert sent.to == ["nell@averhythe.example"] and "Averhythe Quays" in sent.subject
    link = re.search(r"http\S+/invited/\S+", sent.body)[0]
    assert link == link_of(invitation)
    client.logout()
    address = path_of(invitation)
    assert "Averhythe Quays invites you" in client.get(address).text
    assert client.post(address, NEW).status_code == 302
    person = User.objects.get(email="nell@averhythe.example")
    assert person.memberships.get().role == "recorder" and person.check_password(NEW["password"])
    assert client.get(reverse("reports:portfolio")).wsgi_request.user == person
    client.logout()
    again = client.post(address, NEW | {"name": "Somebody Else"})
    assert again.status_code == 404 and User.objects.filter(name="Somebody Else").count() == 0


def test_where_mail_lies_in_a_folder_the_link_is_shown_once(client, world, settings, tmp_path):
    settings.EMAIL_BACKEND = "scheduling.messages.folder.FolderBackend"
    settings.EMAIL_FOLDER = tmp_path
    client.force_login(world.owner)
    page = ask(client, world, role="reader")
    assert Invitation.objects.get().secret in page.text
    assert "no-store" in page["Cache-Control"]
    assert Invitation.objects.get().secret not in client.get(people(world.owner_organisation)).text


def test_the_database_holds_nothing_that_opens_the_link(world, settings):
    secret = made(world).secret
    kept = Invitation.objects.values().get()
    assert secret not in map(str, kept.values())
    settings.SECRET_KEY = "another server's key, of more than fifty characters"
    assert Invitation.objects.get().secret != secret


@pytest.mark.parametrize("closing", ["withdrawn", "expired", "replaced", "unknown", "sent again"])
def test_a_closed_invitation_opens_nothing_and_says_so(client, world, closing):
    invitation = made(world)
    address = path_of(invitation)
    if closing == "expired":
        Invitation.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    elif closing == "replaced":
        made(world)
    elif closing == "unknown":
        address = reverse("registry:invitation", args=["A" * 43])
    else:
        name = "invitation-again" if closing == "sent again" else "invitation-withdraw"
        client.force_login(world.owner)
        client.post(reverse(f"registry:{name}", args=[world.owner_organisation.pk, invitation.pk]))
        client.logout()
    for response in (client.get(address), client.post(address, NEW)):
        assert response.status_code == 404 and "opens nothing" in response.text
    assert not User.objects.filter(email=invitation.email).exists()


def test_sent_again_is_another_link_for_as_long_again(client, world):
    early = timezone.now() - LASTS - timedelta(days=1)
    invitation = made(world, now=early)
    client.force_login(world.owner)
    page = client.get(people(world.owner_organisation))
    assert "expired" in page.text
    client.post(
        reverse("registry:invitation-again", args=[world.owner_organisation.pk, invitation.pk])
    )
    again = Invitation.objects.get()
    assert again.secret != invitation.secret and again.expires_at > timezone.now()
    run_waiting(MAIL)
    assert link_of(again) in mail.outbox[-1].body
    client.logout()
    assert client.get(path_of(again)).status_code == 200


def test_somebody_signed_in_accepts_with_one_button_and_keeps_the_account(client, world):
    invitation = made(world, email="sol@elsewhere.example")
    client.force_login(world.stranger)
    page = client.get(path_of(invitation))
    assert "You are signed in as Sol Stranger" in page.text
    assert 'name="password"' not in page.text
    assert client.post(path_of(invitation), {}).status_code == 302
    assert world.owner_organisation.memberships.get(user=world.stranger).role == "recorder"
    assert Invitation.objects.get().accepted_by == world.stranger


def test_an_address_with_an_account_signs_in_first(client, world):
    invitation = made(world, email=world.stranger.email)
    page = client.get(path_of(invitation))
    assert f"next={path_of(invitation)}" in page.text
    client.post(path_of(invitation), NEW)
    assert not world.owner_organisation.memberships.filter(user=world.stranger).exists()


def test_of_two_who_accept_at_once_one_comes_in(world):
    from registry.services.access.accepting import NewPerson, accept, find_invitation

    invitation = made(world)
    first, second = (find_invitation(invitation.secret, timezone.now()) for _ in range(2))
    assert accept(invitation=first, person=NewPerson(*NEW.values()), now=timezone.now())
    other = NewPerson("Olaf Other", NEW["password"], "us")
    assert accept(invitation=second, person=other, now=timezone.now()) is None
    assert User.objects.filter(email=invitation.email).count() == 1


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"password": "password"}, "password", "too common"),
        ({"password": "nell@averhythe.example"}, "password", "similar"),
        ({"name": ""}, "name", "Nothing is written"),
        ({"name": "olive  MANAGER"}, "name", "Somebody else in this book"),
        ({"name": "\u041elive Manager"}, "name", "Somebody else in this book"),
        ({"name": "\u200b"}, "name", ""),
    ],
)
def test_what_is_wrong_is_said_at_its_field_and_the_link_still_works(
    client, world, wrong, field, words
):
    address = path_of(made(world))
    page = client.post(address, NEW | wrong)
    assert words in str(page.context["form"].errors[field])
    assert client.post(address, NEW).status_code == 302


def test_whoever_is_in_is_not_invited_again(client, world):
    client.force_login(world.owner)
    page = ask(client, world, role="reader", email=world.viewer.email)
    assert "belongs to Averhythe Quays already" in page.text
    assert not Invitation.objects.exists()


def test_no_flood_of_mail(client, world):
    for number in range(MOST_A_DAY):
        made(world, email=f"one{number}@averhythe.example")
    client.force_login(world.owner)
    assert "Wait a day" in ask(client, world, role="reader").text
    assert Invitation.objects.count() == MOST_A_DAY


def test_a_contractor_comes_by_invitation_and_serves_the_sites_that_were_named(client, world):
    client.force_login(world.owner)
    ends = timezone.now().date() + timedelta(days=300)
    page = ask(client, world, "contractor", sites=[world.site.pk], ends_on=ends.isoformat())
    assert page.status_code == 200
    invitation = Invitation.objects.get()
    client.logout()
    answers = NEW | {"organisation_name": "Skerrow Sprinklers"}
    assert client.post(path_of(invitation), answers).status_code == 302
    came = Organisation.objects.get(name="Skerrow Sprinklers")
    assert (came.kind, came.memberships.get().role) == ("contractor", "manager")
    contract = came.service_contracts.get()
    assert (contract.site, contract.ends_on) == (world.site, ends)
    assert contract.starts_on == timezone.now().astimezone(world.site.zone).date()
    assert client.get(world.site.get_absolute_url()).status_code == 200


def test_an_auditor_comes_by_invitation_and_reads_the_sites_that_were_named(client, world):
    second = Site.objects.create(owner=world.owner_organisation, name="South Quay")
    client.force_login(world.owner)
    ends = timezone.now().date() + timedelta(days=30)
    ask(client, world, "auditor", sites=[second.pk], ends_on=ends.isoformat())
    client.logout()
    answers = NEW | {"organisation_name": "Orvane Insurance"}
    client.post(path_of(Invitation.objects.get()), answers)
    access = AuditAccess.objects.get(auditor__name="Orvane Insurance")
    assert (access.ends_on, access.has_all_sites, list(access.sites.all())) == (
        ends, False, [second],
    )  # fmt: skip
    assert client.get(second.get_absolute_url()).status_code == 200
    assert client.get(world.site.get_absolute_url()).status_code == 404


def test_an_auditor_who_has_access_is_told_anew_until_when(client, world):
    Membership.objects.filter(user=world.auditor).update(role="manager")
    ends = timezone.now().date() + timedelta(days=9)
    invitation = made(world, "auditor", email=world.auditor.email, ends_on=ends)
    client.force_login(world.auditor)
    client.post(path_of(invitation), {"organisation": world.auditor_organisation.pk})
    assert AuditAccess.objects.get(auditor=world.auditor_organisation).ends_on == ends


def test_a_contractor_invites_an_owner_who_names_the_sites_it_serves(client, world):
    boss = make_user(world.contractor, "manager", "Bo Boss")
    invitation = made(
        world, "owner", email=world.stranger.email, organisation=world.contractor, by=boss
    )
    client.force_login(world.stranger)
    page = client.post(
        path_of(invitation),
        {"organisation": world.other_owner.pk, "sites": [world.other_site.pk]},
    )
    assert page.status_code == 302
    assert ServiceContract.objects.get(site=world.other_site).contractor == world.contractor


def test_an_owner_who_is_new_begins_a_book(client, world):
    boss = make_user(world.contractor, "manager", "Bo Boss")
    invitation = made(world, "owner", organisation=world.contractor, by=boss)
    answers = NEW | {"organisation_name": "Skerrow Cold Stores"}
    page = client.post(path_of(invitation), answers)
    assert page["Location"] == reverse("registry:first-steps")
    owner = Organisation.objects.get(name="Skerrow Cold Stores")
    assert owner.policy.target_n2_percent == 98 and owner.ledger.next_sequence > 1
    client.post(
        reverse("registry:first-steps"),
        {"name": "Store", "time_zone": "Europe/London", "altitude_m": "10 m"},
    )
    page = client.get(reverse("registry:contract-new", args=[owner.sites.get().pk]))
    assert "Pellmoor Fire Protection" in page.text  # known: it invited them


def test_nobody_picks_from_a_list_of_all_contractors(client, world):
    """An owner sees those that serve it or accepted its invitation, and posts no other."""
    rival = Organisation.objects.create(name="Rival Sprinklers", kind="contractor")
    client.force_login(world.owner)
    address = reverse("registry:contract-new", args=[world.site.pk])
    page = client.get(address)
    assert "Pellmoor Fire Protection" in page.text and "Rival Sprinklers" not in page.text
    posted = client.post(address, {"contractor": rival.pk, "starts_on": "2026-06-01"})
    assert "contractor" in posted.context["form"].errors
    client.force_login(world.stranger)
    page = client.get(reverse("registry:contract-new", args=[world.other_site.pk]))
    assert "Pellmoor Fire Protection" not in page.text


def test_sites_of_somebody_else_cannot_be_named(client, world):
    client.force_login(world.owner)
    page = ask(client, world, "contractor", sites=[world.other_site.pk])
    assert "sites" in page.context["form"].errors
    boss = make_user(world.contractor, "manager", "Bo Boss")
    invitation = made(world, "owner", email="x@x.example", organisation=world.contractor, by=boss)
    client.force_login(world.stranger)
    client.post(
        path_of(invitation), {"organisation": world.other_owner.pk, "sites": [world.site.pk]}
    )
    assert not ServiceContract.objects.filter(site=world.site, starts_on__gt=date(2021, 1, 1))


def test_only_organisations_that_one_leads_come_along(client, world):
    """A technician does not bind the company, and nobody brings another's."""
    invitation = made(world, "contractor", email="t@t.example", sites=[world.site])
    client.force_login(world.technician)
    page = client.post(path_of(invitation), {"organisation": world.contractor.pk})
    assert "organisation_name" in page.context["form"].errors
    assert Invitation.objects.get().accepted_at is None


@pytest.mark.parametrize("kind", ["contractor", "auditor"])
def test_a_contractor_or_auditor_invites_its_own_people_only(client, world, kind):
    boss = make_user(world.contractor, "manager", "Bo Boss")
    client.force_login(boss)
    page = ask(client, world, kind, world.contractor)
    assert page.status_code == 404
    assert ask(client, world, "member", world.contractor, role="recorder").status_code == 200


def test_the_first_run_page_invites_and_says_how_far_that_is(client, world):
    client.force_login(world.owner)
    world.site.service_contracts.all().delete()
    world.owner_organisation.audit_access_given.all().delete()
    steps = reverse("registry:first-steps")
    page = client.get(steps)
    for kind in ("contractor", "auditor"):
        address = reverse("registry:people-invite", args=[world.owner_organisation.pk, kind])
        assert f'href="{address}"' in page.text
    ask(client, world, "auditor")
    assert "invited, not here yet" in client.get(steps).text
    client.logout()
    client.post(path_of(Invitation.objects.get()), NEW | {"organisation_name": "Orvane Insurance"})
    client.force_login(world.owner)
    assert client.get(steps).context["progress"].has_auditor
