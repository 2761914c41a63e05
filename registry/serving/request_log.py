"""One id for each request, in every line of the log that it causes and in its answer."""

import logging
import re
import time
from collections.abc import Callable
from contextvars import ContextVar
from uuid import uuid4

from django.http import HttpRequest, HttpResponse

log = logging.getLogger(__name__)

request_id: ContextVar[str] = ContextVar("request_id", default="")
FIT = re.compile(r"[A-Za-z0-9_.-]{8,64}")
SILENT = ("/static/", "/health/", "/ready/", "/metrics/")


def _id_of(request: HttpRequest) -> str:
    """The proxy's, where it gave one that may stand in a log."""
    given = request.headers.get("X-Request-ID", "")
    return given if FIT.fullmatch(given) else uuid4().hex


class RequestLog:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        began = time.monotonic()
        mark = request_id.set(_id_of(request))
        try:
            response = self.get_response(request)
            response["X-Request-ID"] = request_id.get()
            if not request.path.startswith(SILENT):
                self._say(request, response, time.monotonic() - began)
            return response
        finally:
            request_id.reset(mark)

    @staticmethod
    def _say(request: HttpRequest, response: HttpResponse, seconds: float) -> None:
        """The route and not the path: an address may hold a secret."""
        match = request.resolver_match
        log.info(
            "request",
            extra={
                "method": request.method,
                "route": match.view_name if match else "",
                "status": response.status_code,
                "ms": round(1000 * seconds),
                "person": getattr(getattr(request, "user", None), "pk", None),
            },
        )
