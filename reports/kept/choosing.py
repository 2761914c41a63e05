"""Which systems a report is of: those a portfolio shows under the filters of its address."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from types import SimpleNamespace
from typing import Any

from django.http import QueryDict
from django.utils.translation import gettext

from registry.models import Organisation, Site, System, User
from reports.portfolio.filters import PortfolioFilter


@dataclass(frozen=True)
class Chosen:
    keys: tuple[int, ...]
    words: str
    owners: tuple[Organisation, ...]
    site: Site | None = None


def chosen_systems(reader: User, query: Mapping[str, Any], now: datetime) -> Chosen:
    """`query`: an address as the portfolio has it; filters go by what holds today."""
    data = query if isinstance(query, QueryDict) else _as_query(query)
    asker = SimpleNamespace(user=reader)
    systems = System.objects.visible_to(reader)
    found = PortfolioFilter(data or None, queryset=systems, request=asker, now=now)
    keys = tuple(found.qs.order_by("pk").values_list("pk", flat=True))
    said = "; ".join(_said(found.form))
    words = (
        gettext("Of what is chosen in the portfolio today. {said}.").format(said=said)
        if said
        else gettext("All systems that the reader may see.")
    )
    return Chosen(keys, words, _owners(keys))


def systems_of(site: Site, reader: User) -> Chosen:
    systems = System.objects.visible_to(reader).filter(site=site).order_by("pk")
    return Chosen(tuple(systems.values_list("pk", flat=True)), "", (site.owner,), site)


def _as_query(query: Mapping[str, Any]) -> QueryDict:
    data = QueryDict(mutable=True)
    for name, value in query.items():
        data.setlist(name, value if isinstance(value, list) else [value])
    return data


def _owners(keys: tuple[int, ...]) -> tuple[Organisation, ...]:
    owners = Organisation.objects.filter(sites__systems__in=keys).distinct()
    return tuple(owners.order_by("name"))


def _said(form: Any) -> Iterator[str]:
    """The filters that were set, as their page labels them."""
    if not form.is_bound or not form.is_valid():
        return
    for name, field in form.fields.items():
        value = form.cleaned_data.get(name)
        if value in (None, "", []):
            continue
        labels = {str(key): str(label) for key, label in getattr(field, "choices", ())}
        several = value if isinstance(value, list | tuple) else [value]
        told = ", ".join(labels.get(str(one), str(one)) for one in several)
        yield f"{field.label}: {told}"
