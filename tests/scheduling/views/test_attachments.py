"""Files go to those who may see the system, and only while they are what was recorded."""

from urllib.parse import unquote

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from registry.models import Attachment
from tests.scheduling.recurring_world import JPEG, adopt, complete, open_of, upload

pytestmark = pytest.mark.django_db


@pytest.fixture
def planned(world, system):
    adopt(world.site, world.owner, now=timezone.now())
    return system


def _attached(world, planned, **file):
    gauges = open_of(planned, "gauges")
    complete(gauges, world.technician, timezone.now(), files=[upload(**file)])
    return Attachment.objects.get()


def test_a_file_is_a_download_that_no_browser_will_run(client, world, planned):
    attached = _attached(world, planned, name="../../x/гidge.jpg")
    client.force_login(world.viewer)
    response = client.get(attached.get_absolute_url())
    assert b"".join(response) == JPEG
    response.close()
    assert response["Content-Type"] == "image/jpeg"
    assert response["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in response["Content-Security-Policy"]
    assert response["Content-Disposition"].startswith("attachment;")
    assert "/" not in unquote(response["Content-Disposition"]).split("''")[-1]
    assert "no-store" in response["Cache-Control"]


@pytest.mark.parametrize("damage", ["changed", "missing"])
def test_a_file_that_is_no_longer_what_was_recorded_is_not_handed_out(
    client, world, planned, damage
):
    attached = _attached(world, planned)
    default_storage.delete(attached.stored_as)
    if damage == "changed":
        default_storage.save(attached.stored_as, ContentFile(JPEG + b"x"))
    client.force_login(world.owner)
    response = client.get(attached.get_absolute_url())
    assert response.status_code == 409
    assert attached.sha256 in response.content.decode()


def test_a_file_is_hidden_from_strangers_and_from_nobody_in_particular(client, world, planned):
    attached = _attached(world, planned)
    client.force_login(world.stranger)
    assert client.get(attached.get_absolute_url()).status_code == 404
    client.logout()
    assert client.get(attached.get_absolute_url()).status_code == 302


def test_no_address_leads_to_the_folder_of_files(client, world, planned):
    attached = _attached(world, planned)
    client.force_login(world.owner)
    for path in (f"/media/{attached.stored_as}", f"/static/../media/{attached.stored_as}"):
        assert client.get(path).status_code == 404
