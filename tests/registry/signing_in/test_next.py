"""Where one goes after signing in is never taken from an address that is none."""

import pytest
from django.urls import reverse

pytestmark = pytest.mark.django_db
NO_ADDRESS = "http://["
RIGHT = "a long sentence nobody guesses"


@pytest.mark.parametrize("method", ["get", "head", "post"])
@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("account_login", {}),
        ("account_reset_password", {}),
        ("account_reset_password_from_key", {"uidb36": "1", "key": "not-a-key"}),
    ],
)
def test_no_page_without_sign_in_fails_on_it(client, world, name, kept, method):
    address = reverse(name, kwargs=kept, query={"next": NO_ADDRESS})
    assert getattr(client, method)(address).status_code < 500


def test_one_signs_in_and_stands_at_the_start(client, owner):
    owner.set_password(RIGHT)
    owner.save()
    address = reverse("account_login", query={"next": NO_ADDRESS})
    answer = client.post(address, {"login": owner.email, "password": RIGHT})
    assert answer.status_code == 302 and answer["Location"] == reverse("reports:portfolio")
