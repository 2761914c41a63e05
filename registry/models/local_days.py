"""Days by the clocks of many places, asked of the database."""

from datetime import datetime
from typing import Any

from django.db.models import DateField, DateTimeField, Func, Value
from django.db.models.expressions import Combinable


class DayThere(Func):
    """The date that a clock in the zone which a column names shows at an instant."""

    output_field = DateField()
    template = "(timezone(%(expressions)s))::date"

    def __init__(self, zone: Combinable, instant: datetime):
        super().__init__(zone, Value(instant, output_field=DateTimeField()))

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> tuple[str, Any]:
        """By the function that Django itself gives to SQLite for casting to a date in a zone."""
        zone, instant = self.get_source_expressions()
        there = self.copy()
        there.set_source_expressions([instant, zone, Value("UTC")])
        template = "django_datetime_cast_date(%(expressions)s)"
        return there.as_sql(compiler, connection, template=template, **context)
