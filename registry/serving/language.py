"""Each answer in its reader's language: the one they chose, else what their browser asks for."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import patch_vary_headers


class ReadersLanguage:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        chosen = _chosen(request)
        language = chosen or translation.get_language_from_request(request)
        with translation.override(language):
            response = self.get_response(request)
        if not chosen:
            patch_vary_headers(response, ("Accept-Language",))
        response.headers.setdefault("Content-Language", language)
        return response


def _chosen(request: HttpRequest) -> str:
    """Nobody is looked up for a request without a session: feeds, health, static files."""
    if settings.SESSION_COOKIE_NAME not in request.COOKIES:
        return ""
    user = request.user
    return user.language if user.is_authenticated else ""
