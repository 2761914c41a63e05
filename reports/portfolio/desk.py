"""The portfolio page, put together: what is asked for in its address, and what answers it."""

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from urllib.parse import urlencode

from django.db.models import QuerySet
from django.http import QueryDict
from django.utils.safestring import SafeString

from registry.models import Assessment, Membership, SavedView, System
from registry.services.desk import visit
from reports.portfolio.columns import FURTHER, USUAL, Column, chosen
from reports.portfolio.counts import Changes, Counts, changes, checked, counts
from reports.portfolio.filters import PortfolioFilter
from reports.portfolio.markup import Rows
from reports.portfolio.rows import Row, rows_of
from reports.portfolio.sorting import USUAL as USUAL_SORT
from reports.portfolio.sorting import Keys, Sort, all_keys, keys_of_page

MOST_COUNTED = 1000
PAGING = ("after", "before", "page", "several")
OF_A_VIEW = (
    "text", "site", "kind", "state", "protection", "band", "follow_ups", "sort", "columns",
)  # fmt: skip


@dataclass(frozen=True)
class Heading:
    """A column's heading, and the address that its press leads to."""

    column: Column
    address: str
    direction: str  # "", "ascending" or "descending"


class Asked:
    """What the address asks for: filters, order and columns; the same for page and files."""

    def __init__(self, query: QueryDict, request, now: datetime):
        self.query, self.user, self.now = query, request.user, now
        self.sort = Sort.of(query.get("sort") or USUAL_SORT)
        self.columns = chosen(query.getlist("columns"))
        everything = System.objects.visible_to(request.user).order_by()
        self.filter = PortfolioFilter(query, queryset=everything, request=request, now=now)

    @cached_property
    def systems(self) -> QuerySet:
        return self.filter.qs

    @property
    def is_narrowed(self) -> bool:
        names = self.filter.form.fields
        return any(self.query.get(name) for name in names)

    @cached_property
    def keys(self) -> Keys:
        after, before = self.query.get("after", ""), self.query.get("before", "")
        return keys_of_page(self.systems, self.sort, self.now, after=after, before=before)

    def every_key(self) -> list[int]:
        return all_keys(self.systems, self.sort, self.now)

    @property
    def view(self) -> str:
        """The part of the address that a saved view keeps."""
        kept = [(name, one) for name in OF_A_VIEW for one in self.query.getlist(name) if one]
        return urlencode(kept)

    def address(self, **changed: str) -> str:
        """The same view with something changed, from its first page."""
        query = self.query.copy()
        for name in PAGING:
            query.pop(name, None)
        for name, value in changed.items():
            query[name] = value
            if not value:
                del query[name]
        return f"?{query.urlencode()}"


class Desk:
    """Everything on the page."""

    def __init__(self, asked: Asked, since: datetime | None):
        self.asked, self.user, self.now, self.since = asked, asked.user, asked.now, since

    @classmethod
    def of(cls, request, now: datetime) -> "Desk":
        return cls(Asked(request.GET, request, now), visit(user=request.user, now=now))

    @cached_property
    def counts(self) -> Counts:
        return counts(self.user, self.now)

    @cached_property
    def changes(self) -> Changes | None:
        return changes(self.user, self.since, self.counts.systems)

    @cached_property
    def checked(self):
        return checked(self.user)

    @cached_property
    def _read(self) -> dict[int, Row]:
        """The rows of the page and the worst of all, read together."""
        keys = list(self.asked.keys.pks)
        also = [self.worst_key] if self.worst_key and self.worst_key not in keys else []
        columns = {column.code for column in self.asked.columns}
        found = rows_of(keys + also, self.user, self.now, since=self.since, columns=columns)
        return {row.system.pk: row for row in found}

    @cached_property
    def worst_key(self) -> int | None:
        """Where all stand worst first, the first row of the first page is the worst of all."""
        asked = self.asked
        is_whole = not asked.is_narrowed and not asked.keys.before
        if is_whole and asked.sort.text == USUAL_SORT and asked.keys.pks:
            return asked.keys.pks[0]
        scored = Assessment.objects.visible_to(self.user).latest().filter(score__gt=0)
        return scored.order_by("-score", "system").values_list("system", flat=True).first()

    @property
    def worst(self) -> Row | None:
        row = self._read.get(self.worst_key or 0)
        return row if row and row.system.score else None

    @cached_property
    def rows(self) -> list[Row]:
        return [self._read[key] for key in self.asked.keys.pks if key in self._read]

    @property
    def html(self) -> SafeString:
        return Rows(
            self.user, self.now, self.asked.columns, selects=self.asked.query.get("several", "")
        ).html(self.rows)

    @cached_property
    def matching(self) -> int:
        """How many the filters leave; more than a thousand are not counted to the end."""
        if not self.asked.is_narrowed:
            return self.counts.systems
        return self.asked.systems.values("pk")[: MOST_COUNTED + 1].count()

    @property
    def is_over(self) -> bool:
        return self.asked.is_narrowed and self.matching > MOST_COUNTED

    @property
    def headings(self) -> list[Heading]:
        return [self._heading(column) for column in (*USUAL, *self.asked.columns)]

    def _heading(self, column: Column) -> Heading:
        if not column.sort:
            return Heading(column, "", "")
        sort = self.asked.sort
        if sort.name != column.sort:
            return Heading(column, self.asked.address(sort=column.first + column.sort), "")
        turned = Sort(sort.name, not sort.is_descending).text
        direction = "descending" if sort.is_descending else "ascending"
        return Heading(column, self.asked.address(sort=turned), direction)

    @property
    def pages(self) -> dict[str, str]:
        """Addresses of the pages beside this one; none where there is none."""
        keys, first = self.asked.keys, self.asked.address()
        return {
            "first": first if keys.before else "",
            "before": f"{first}&{urlencode({'before': keys.before})}" if keys.before else "",
            "after": f"{first}&{urlencode({'after': keys.after})}" if keys.after else "",
        }

    @property
    def further(self) -> list[tuple[Column, bool]]:
        on = {column.code for column in self.asked.columns}
        return [(column, column.code in on) for column in FURTHER]

    @cached_property
    def views(self) -> list[SavedView]:
        mine = self.user.organisations.values("pk")
        return list(SavedView.objects.filter(organisation__in=mine))

    @cached_property
    def may_save(self) -> bool:
        roles = (Membership.Role.MANAGER, Membership.Role.RECORDER)
        return self.user.memberships.filter(role__in=roles).exists()

    @property
    def spare(self) -> int:
        """Columns of the table, for a row that spans them."""
        return len(self.headings)
