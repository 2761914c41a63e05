import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from registry.imports import jobs
from registry.models import ImportBatch, PipeRun, Site, System
from tests.factories import make_user

from .conftest import NOW, plain_register

NEW = "registry:import-new"


def messy():
    return SimpleUploadedFile("messy.csv", plain_register())


@pytest.fixture
def batch(world):
    return jobs.receive(
        owner=world.owner_organisation, uploaded_by=world.owner, upload=messy(), now=NOW
    )


def address(name: str, batch) -> str:
    return reverse(f"registry:{name}", args=[batch.pk])


def test_a_manager_uploads_looks_loads_and_takes_the_rest_home(client, owner):
    client.force_login(owner)
    owner_pk = owner.organisations.get().pk
    page = client.post(reverse(NEW), {"owner": owner_pk, "file": messy()}, follow=True)
    text = page.content.decode()
    assert "Load 8 rows" in text
    assert "No row can be loaded" not in text
    assert "“forty feet”" in text
    assert "Which order do dates such as 3/4/2001 have" in text
    assert PipeRun.objects.count() == 0

    batch = ImportBatch.objects.get()
    page = client.post(address("import-load", batch), follow=True)
    assert "Loaded by Olive Manager" in page.content.decode()
    assert "Import the fixed rows" in page.content.decode()
    assert System.objects.count() == 4
    download = client.get(address("import-bad-rows", batch))
    assert download["Content-Disposition"] == 'attachment; filename="messy-rows-to-fix.csv"'
    assert b"forty feet" in b"".join(download.streaming_content)


def test_a_file_of_which_nothing_can_be_loaded_says_so(client, owner, world, register_file):
    path = register_file(ROW.format(tag="W-1").replace("20 ft", "forty feet"), more="Nitrogen")
    upload = SimpleUploadedFile("west.csv", path.read_bytes())
    bad = jobs.receive(owner=world.owner_organisation, uploaded_by=owner, upload=upload, now=NOW)
    client.force_login(owner)
    assert "No row can be loaded as it is" in client.get(address("import", bad)).content.decode()


def test_without_a_file_the_page_asks_for_one(client, owner):
    client.force_login(owner)
    page = client.post(reverse(NEW), {"owner": owner.organisations.get().pk}).content.decode()
    assert "Nothing was read yet" in page
    assert "Choose the file first." in page


def test_questions_are_answered_on_the_preview_and_stay_answered(client, owner, batch):
    client.force_login(owner)
    page = client.post(address("import", batch), {"date_order": "mdy"}, follow=True)
    assert "Load 9 rows" in page.content.decode()
    assert page.context["form"]["date_order"].initial == "mdy"


ROW = "West Mole,{tag},dry,OH1,riser,black steel,40,4,20 ft,2001,yes"


@pytest.fixture
def supplies(world, register_file):
    path = register_file(*(ROW.format(tag=tag) for tag in ("W-1", "W-2", "W-3")), more="Nitrogen")
    upload = SimpleUploadedFile("west.csv", path.read_bytes())
    return jobs.receive(
        owner=world.owner_organisation, uploaded_by=world.owner, upload=upload, now=NOW
    )


def test_one_answer_serves_all_systems_whose_rows_say_the_same(client, owner, supplies):
    client.force_login(owner)
    form = client.get(address("import", supplies)).context["form"]
    (many,) = form.alike
    first = next(n for n, meant in form.names.items() if meant.startswith("gas_supply"))
    answers = {many: "generator", first: "cylinders"}
    client.post(address("import", supplies), answers)
    client.post(address("import-load", supplies))
    found = dict(System.objects.values_list("tag", "gas_supply"))
    assert found == {"W-1": "cylinders", "W-2": "generator", "W-3": "generator"}


def test_after_loading_each_new_site_is_a_link_to_where_its_zone_is_set(client, owner, supplies):
    client.force_login(owner)
    client.post(address("import-load", supplies))
    text = client.get(address("import", supplies)).content.decode()
    west = Site.objects.get(name="West Mole")
    assert reverse("registry:site-edit", args=[west.pk]) in text


def test_an_answer_that_was_not_offered_is_refused(client, owner, batch):
    client.force_login(owner)
    page = client.post(address("import", batch), {"date_order": "ymd"})
    assert "ymd is not one of the available choices" in page.content.decode()


def test_a_file_that_is_no_register_is_refused_at_its_field(client, owner):
    client.force_login(owner)
    letter = SimpleUploadedFile("letter.csv", b"Dear all,\nhow are you?\n")
    page = client.post(reverse(NEW), {"owner": owner.organisations.get().pk, "file": letter})
    assert "holds no table" in page.context["form"].errors["file"][0]


def test_while_a_file_is_read_the_page_asks_again_by_itself(client, owner, batch):
    ImportBatch.objects.filter(pk=batch.pk).update(
        state="loading", rows_total=100_000, rows_read=50_000
    )
    client.force_login(owner)
    text = client.get(address("import", batch)).content.decode()
    assert 'hx-trigger="every 2s"' in text
    assert "25 %" in text
    assert "Load 8 rows" not in text


def test_loading_twice_says_so_and_does_nothing_twice(client, owner, batch):
    client.force_login(owner)
    client.post(address("import-load", batch))
    page = client.post(address("import-load", batch), follow=True)
    assert "nothing was done twice" in page.content.decode()
    assert PipeRun.objects.count() == 8


def test_a_file_for_an_owner_one_does_not_manage_is_refused(client, owner, world):
    client.force_login(owner)
    client.post(reverse(NEW), {"owner": world.other_owner.pk, "file": messy()})
    assert ImportBatch.objects.count() == 0


PAGES = [("import", "get"), ("import", "post"), ("import-load", "post"), ("import-bad-rows", "get")]


@pytest.mark.parametrize(("name", "method"), PAGES)
def test_a_strangers_import_does_not_exist_and_a_members_is_closed(
    client, world, batch, name, method
):
    recorder = make_user(world.owner_organisation, "recorder")
    expected = {
        world.stranger: 404,
        world.technician: 404,
        world.auditor: 404,
        world.viewer: 403,
        recorder: 403,
    }
    for person, status in expected.items():
        client.force_login(person)
        assert getattr(client, method)(address(name, batch)).status_code == status
    assert PipeRun.objects.count() == 0


def test_only_managers_of_an_owner_may_import(client, world):
    for person in (world.viewer, world.technician, world.auditor):
        client.force_login(person)
        assert client.get(reverse(NEW)).status_code == 403
        assert client.post(reverse(NEW), {"file": messy()}).status_code == 403
    client.force_login(world.stranger)
    assert client.get(reverse(NEW)).status_code == 200


def test_a_link_is_no_way_to_load(client, owner, batch):
    client.force_login(owner)
    assert client.get(address("import-load", batch)).status_code == 405
