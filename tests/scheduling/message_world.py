"""Arguments for the addresses of messages."""

from typing import Any

from scheduling.messages.links import unsubscribe_link
from scheduling.messages.outbox import write
from scheduling.messages.webhooks import add_endpoint
from scheduling.models import Message
from tests.factories import NOW


def message_objects(world) -> dict[str, dict[str, Any]]:
    endpoint = add_endpoint(
        owner=world.owner_organisation, label="Building system", kinds=["record.added"],
        url="https://hooks.averhythe.example/book", made_by=world.owner, now=NOW,
    )  # fmt: skip
    write(kind="trial", cause_key="one", endpoints=[endpoint], now=NOW)
    message = Message.objects.get(endpoint=endpoint)
    one = {"pk": endpoint.pk}
    return {
        "scheduling:unsubscribe": {"token": token_of(world.viewer)},
        "scheduling:webhook": one,
        "scheduling:webhook-trial": one,
        "scheduling:webhook-secret": one,
        "scheduling:webhook-again": one | {"message_pk": message.pk},
    }


def token_of(person) -> str:
    return unsubscribe_link(person, "digest").rstrip("/").rpartition("/")[2]
