"""What a page says when it cannot be served: which part is away, and what is to be done."""

import errno
import sys

from django.db import InterfaceError, OperationalError
from django.shortcuts import render
from django.views.defaults import server_error


def fault(request):
    """The database away or the disk full is not our fault, and passes: 503, and come again."""
    error = sys.exc_info()[1]
    if is_full(error):
        return _unavailable(request, is_full=True)
    if isinstance(error, (OperationalError, InterfaceError)):
        return _unavailable(request, is_full=False)
    return server_error(request)


def is_full(error: BaseException | None) -> bool:
    if isinstance(error, OSError):
        return error.errno in (errno.ENOSPC, errno.EFBIG, errno.EDQUOT)
    return isinstance(error, OperationalError) and "full" in str(error)


def _unavailable(request, **context):
    """Without the context of a signed-in person: asking who it is would ask the database."""
    response = render(None, "503.html", context, status=503)
    response["Retry-After"] = "30"
    return response
