"""How the sign of a system stands: which one is up, whether it still says what the book says."""

from dataclasses import dataclass
from datetime import datetime

from registry.models import RiserSign, System
from registry.riser_sign.facts import no_gas, sign_facts


@dataclass(frozen=True)
class SignStanding:
    """`wall` is the sign that somebody said was put up; `printed` one that waits to be."""

    wall: RiserSign | None
    printed: RiserSign | None
    is_out_of_date: bool

    @classmethod
    def of(cls, system: System, now: datetime) -> "SignStanding":
        live = list(system.riser_signs.live().select_related("put_up_by", "made_by"))
        wall = next((sign for sign in live if sign.put_up_at), None)
        printed = next((sign for sign in live if not sign.put_up_at), None)
        is_other = wall is not None and (
            wall.content != sign_facts(system, now).digest or bool(no_gas(system))
        )
        return cls(wall, printed, is_other)
