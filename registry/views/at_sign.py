"""What the code of a sign opens, without an account: the helper, and telling what happened.

Nothing is shown that is not on the sign. The address holds the secret, so no cache keeps a page.
"""

from functools import wraps
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.functional import cached_property
from django.utils.translation import gettext
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_safe
from django.views.defaults import page_not_found

from registry.forms.riser_signs import MOST_PHOTOS, GaugeForm, TellForm
from registry.riser_sign.facts import no_gas, sign_facts
from registry.riser_sign.limits import GUESSES, LOOKS, TELLS, is_within
from registry.riser_sign.texts import TEXTS
from registry.riser_sign.words import set_point_for, sign_words
from registry.services.attaching import LARGEST
from registry.services.ledger import RecordError
from registry.services.riser_signs import find_sign
from registry.services.telling import tell
from registry.translation import language_of

TOO_LARGE, TOO_MANY = 413, 429
LARGEST_REQUEST = (MOST_PHOTOS + 1) * LARGEST
GAS_FILLED_ONLY = ("trip", "gas_loss")


def at_the_sign(view):
    """The live sign whose secret this is, within the limits; 404 for any other address. Nothing of
    what was sent is read before that, and nothing that is larger than photos can be."""

    protected = csrf_protect(view)

    @login_not_required
    @csrf_exempt  # or the token would be looked for in a body of any size
    @wraps(view)
    def found(request, secret):
        now = timezone.now()
        sign = find_sign(secret)
        limit = GUESSES if sign is None else LOOKS
        if not is_within(limit, sign, request, now):
            return _kept_nowhere(_too_many(request, None))
        if sign is None:
            return _kept_nowhere(_nothing_here(request))
        at = AtSign(request, sign, secret, now)
        with language_of(at.language):
            if _length(request) > LARGEST_REQUEST:
                return _kept_nowhere(_too_large(request, at))
            return _kept_nowhere(protected(request, at))

    return found


def _length(request):
    """In bytes; what is no number is none, and nothing is read of such a request."""
    length = request.META.get("CONTENT_LENGTH") or "0"
    return int(length) if length.isascii() and length.isdigit() and len(length) < 20 else 0


class AtSign:
    """The page of one sign: its facts, in the language that was chosen."""

    def __init__(self, request, sign, secret, now):
        self.sign, self.secret, self.now = sign, secret, now
        self.facts = sign_facts(sign.system, now)
        wanted = request.GET.get("lang", "")
        self.language = wanted if wanted in self.facts.languages else self.facts.languages[0]
        self.texts = TEXTS[self.language]
        self.words = sign_words(self.facts, self.language)
        self.path, self.asked = request.path, request.GET

    def address(self, name, **more):
        asked = {"lang": self.language, **more}
        query = "&".join(f"{key}={value}" for key, value in asked.items())
        return f"{reverse(f'registry:{name}', args=[self.secret])}?{query}"

    def context(self, **more):
        return {
            "at": self, "words": self.words, "texts": self.texts, "others": self.others,
            "home": self.address("at-sign"), "tell": self.address("at-sign-tell"),
            "drain": self.address("at-sign-drain"), **more,
        }  # fmt: skip

    @cached_property
    def no_gas(self):
        """Why the pipe may hold none, where it was changed since the sign was printed."""
        return no_gas(self.sign.system)

    @property
    def others(self):
        """The same page in each other language of the site."""
        for language in self.facts.languages:
            if language != self.language:
                query = self.asked.copy()
                query["lang"] = language
                yield TEXTS[language], f"{self.path}?{query.urlencode()}"

    @property
    def choices(self):
        """What can have happened to this kind of system."""
        return [
            (code, words, self.address("at-sign-tell", what=code))
            for code, words in self.texts.what
            if self.facts.is_gas_filled or code not in GAS_FILLED_ONLY
        ]

    def thanks(self, key):
        """Words of thanks for what was really told here, by the key of its form."""
        try:
            told = self.sign.tellings.filter(client_key=UUID(key)).select_related("record").first()
        except ValueError:
            return ""
        if told is None:
            return ""
        return self.texts.thanks if told.has_own_record else self.texts.thanks_again


@at_the_sign
@require_safe
def at_sign(request, at):
    return render(request, "registry/at_sign.html", at.context())


@at_the_sign
@require_safe
def at_sign_drain(request, at):
    form = GaugeForm(request.GET if "gauge" in request.GET else None, texts=at.texts)
    told = ""
    if form.is_valid() and "gauge_pa" in form.cleaned_data:
        told = set_point_for(at.facts, form.cleaned_data["gauge_pa"], at.language)
    how_it_went = at.address("at-sign-tell", what="drained")
    return render(
        request,
        "registry/at_sign_drain.html",
        at.context(form=form, set_point=told, how_it_went=how_it_went),
    )


@at_the_sign
@require_http_methods(["GET", "HEAD", "POST"])
def at_sign_tell(request, at):
    what = request.GET.get("what", "")
    if what not in {code for code, _words, _address in at.choices}:
        context = at.context(thanks=at.thanks(request.GET.get("told", "")))
        return render(request, "registry/at_sign_choose.html", context)
    is_sent = request.method == "POST"
    if is_sent and not is_within(TELLS, at.sign, request, at.now):
        return _too_many(request, at)
    form = TellForm(request.POST or None, request.FILES or None, texts=at.texts, what=what)
    if is_sent and form.is_valid():
        try:
            told = tell(sign=at.sign, now=at.now, **form.told())
            return redirect(at.address("at-sign-tell", told=told.client_key))
        except RecordError as error:
            for problem in error.problems.values():
                form.add_error(None, problem)
    said = dict(at.texts.what)[what]
    context = at.context(form=form, said=said, action=at.address("at-sign-tell", what=what))
    return render(request, "registry/at_sign_tell.html", context, status=422 if is_sent else 200)


def _nothing_here(request):
    """The page that any unknown address has; kept nowhere, as the code may be made tomorrow."""
    return page_not_found(request, Http404(gettext("There is nothing here, or not any more.")))


def _too_large(request, at):
    context = at.context(title=at.texts.mend, said=at.texts.photo_wrong)
    return render(request, "registry/at_sign_refused.html", context, status=TOO_LARGE)


def _too_many(request, at):
    """Before a sign is known nothing of it is shown, in the language of most."""
    texts = at.texts if at else TEXTS["en"]
    context = at.context() if at else {"texts": texts}
    context |= {"title": texts.too_many_title, "said": texts.too_many}
    return render(request, "registry/at_sign_refused.html", context, status=TOO_MANY)


def _kept_nowhere(response):
    patch_cache_control(response, private=True, no_store=True)
    response["Referrer-Policy"] = "same-origin"  # without any, a form could not be sent
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response
