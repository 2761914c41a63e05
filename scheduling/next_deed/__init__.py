"""The one thing to do next at a system, for every page that offers it; the first true line wins."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext

from registry.kinds.readings import GAS_READING
from registry.models import AtmosphereSpan, ProtectionSpan, System

STATES = AtmosphereSpan.State


@dataclass(frozen=True)
class Standing:
    """What decides it. `order` is the key of an open order to make the system inert."""

    pk: int
    kind: str
    state: str | None
    protection: str | None
    run: int | None = None
    order: int | None = None
    order_is_late: bool = False
    order_is_booked: bool = False
    rusts: bool = True
    may_record: bool = False
    may_manage: bool = False

    @property
    def may_be_ordered(self) -> bool:
        """Aerated, of pipe that rusts and can hold gas, and nobody has ordered it yet."""
        is_worth_it = self.rusts and self.kind != System.Kind.DELUGE
        return self.state == STATES.AERATED and is_worth_it and self.order is None


@dataclass(frozen=True)
class Deed:
    code: str
    words: str
    address: str
    is_dark: bool = True

    @property
    def is_order(self) -> bool:
        return self.code == "order"


def next_deed(at: Standing) -> Deed | None:
    """None for a person who may only read, where nothing is under way."""
    if at.run is not None:
        return Deed("run", gettext("Go to the run"), reverse("registry:run", args=[at.run]))
    if at.may_record and at.protection == ProtectionSpan.State.IMPAIRED:
        end = reverse("scheduling:impairment-end", args=[at.pk])
        return Deed("restore", gettext("Restore protection"), end)
    if at.may_be_ordered and at.may_manage:
        order = reverse("scheduling:order-inerting", args=[at.pk])
        return Deed("order", gettext("Order inerting"), order)
    if at.order is not None:
        return _ordered(at)
    if at.may_record and at.state == STATES.IN_DOUBT:
        reading = reverse("registry:record-new", args=[at.pk, GAS_READING.code])
        return Deed("reading", gettext("Log a reading"), reading)
    if at.may_record:
        choose = reverse("registry:record-choose", args=[at.pk])
        return Deed("log", gettext("Log an event or reading"), choose, is_dark=False)
    return None


def _ordered(at: Standing) -> Deed:
    task = reverse("scheduling:task", args=[at.order])
    if at.order_is_late:
        return Deed("ask", gettext("Ask why it is late"), task)
    words = gettext("See the booking") if at.order_is_booked else gettext("See the order")
    return Deed("see", words, task, is_dark=False)
