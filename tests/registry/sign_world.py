"""A sign at the riser, and something told at it."""

from typing import Any
from uuid import uuid4

from django.utils import timezone

from registry.models import RiserSign, System
from registry.services.riser_signs import MadeSign, make_sign
from registry.services.telling import tell


def hang_sign(system: System, by, now=None) -> MadeSign:
    return make_sign(system=system, made_by=by, now=now or timezone.now())


def told(sign: RiserSign, what: str = "leak", now=None, **said):
    said = {"happened": "now", "client_key": uuid4(), **said}
    return tell(sign=sign, what=what, now=now or timezone.now(), **said)


def sign_objects(world, system: System) -> dict[str, dict[str, Any]]:
    """Arguments for the addresses of the sign; `system` was inert."""
    made = hang_sign(system, world.owner)
    telling = told(made.sign, words="Under the stairs")
    one, secret = {"pk": system.pk}, {"secret": made.secret}
    return {
        "registry:at-sign": secret,
        "registry:at-sign-drain": secret,
        "registry:at-sign-tell": secret,
        "registry:told": one,
        "registry:told-confirm": {"pk": telling.record_id, "kind": "event.leak"},
        "registry:told-erase": {"pk": telling.pk},
        "reports:riser-sign": one,
        "reports:riser-sign-up": one | {"sign_pk": made.sign.pk},
        "reports:riser-sign-end": one,
        "reports:riser-sign-settings": {"pk": system.site_id},
    }
