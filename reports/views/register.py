from django.http import HttpResponse
from django.utils import timezone
from django.utils.text import slugify

from registry.access import get_owner
from registry.translation import in_english
from reports.ledger.csv_rows import csv_response
from reports.register.rows import COLUMNS, as_text, register_lines
from reports.register.workbook import register_workbook

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@in_english()
def register_csv(request, pk):
    """The register as it imports again."""
    owner = get_owner(request.user, pk)
    lines = ([as_text(cell) for cell in line] for line in register_lines(owner, request.user))
    return csv_response(f"register-{slugify(owner.name)}.csv", COLUMNS, lines)


@in_english()
def register_xlsx(request, pk):
    owner = get_owner(request.user, pk)
    content = register_workbook(
        register_lines(owner, request.user),
        made_by=request.user.name or request.user.email,
        now=timezone.now(),
    )
    response = HttpResponse(content, content_type=XLSX)
    name = f"register-{slugify(owner.name)}.xlsx"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
