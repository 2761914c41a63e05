"""The pages of signing in that the accounts library has not, or not as the book wants them."""

from allauth.account.internal.decorators import login_not_required
from allauth.account.views import LoginView
from allauth.mfa.base.views import IndexView
from allauth.mfa.webauthn.views import RemoveWebAuthnView
from allauth.socialaccount.helpers import render_authentication_error
from allauth.socialaccount.models import SocialApp
from allauth.socialaccount.providers.oauth2.client import OAuth2Error
from allauth.usersessions.internal.flows.sessions import end_sessions
from allauth.usersessions.models import UserSession
from allauth.usersessions.views import ListUserSessionsView
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe
from requests import RequestException

from registry.access import key_in
from registry.forms.second_step import LastStepForm
from registry.models import Membership, Organisation, SignIn, User
from registry.signing_in.clients import browser_in
from registry.signing_in.demand import demanding
from registry.signing_in.outside import CheckingAdapter, ComeFromOutside, GoOutside
from registry.signing_in.sessions import ENDED_BY, how_long
from registry.signing_in.step_up import shows_secret

SHOWN = 200


class SignInView(LoginView):
    """Says why a session ended, and whether the person who is signed in may not see the page."""

    def get_context_data(self, **kwargs):
        ended = self.request.session.get(ENDED_BY)
        return super().get_context_data(**kwargs) | {
            "is_idle": ended == SignIn.What.IDLE,
            "is_over": ended == SignIn.What.OVER,
            "idle": how_long(settings.SESSION_IDLE_S),
            "longest": how_long(settings.SESSION_LONGEST_S),
            "provider": provider_name(),
        }


sign_in = SignInView.as_view()


class SecondStepView(IndexView):
    def get_context_data(self, **kwargs):
        asked = {"demanding": list(demanding(self.request.user))}
        return super().get_context_data(**kwargs) | asked


second_step = SecondStepView.as_view()


class RemovePasskeyView(RemoveWebAuthnView):
    """The last second step stays where an organisation asks for one."""

    form_class = LastStepForm

    def get_form_kwargs(self):
        """Judged before the button is pressed, as the library does it with the app."""
        return {"data": {}} | super().get_form_kwargs() | {"authenticator": self.object}


remove_passkey = RemovePasskeyView.as_view()


@login_not_required
def keeper_sign_in(request):
    """The admin site has no door of its own: whoever comes to it signs in like everybody."""
    if request.user.is_authenticated and not request.user.is_staff:
        raise PermissionDenied(gettext("This part is for the keeper of the installation."))
    then = request.GET.get("next", "")
    if not url_has_allowed_host_and_scheme(then, allowed_hosts=None):
        then = reverse("admin:index")
    if request.user.is_authenticated:
        return redirect(then)
    return redirect(f"{reverse('account_login')}?{urlencode({'next': then})}")


def provider_name() -> str:
    apps = settings.SOCIALACCOUNT_PROVIDERS.get("openid_connect", {}).get("APPS", [])
    return apps[0]["name"] if apps else ""


@login_not_required
def go_outside(request, provider_id):
    return _outside(GoOutside, request, provider_id)


@login_not_required
def come_from_outside(request, provider_id):
    return _outside(ComeFromOutside, request, provider_id)


def _outside(view, request, provider_id):
    adapter = CheckingAdapter(request, provider_id)
    try:
        return view.adapter_view(adapter)(request)
    except SocialApp.DoesNotExist:
        raise Http404(gettext("Signing in at another provider is not set up here.")) from None
    except (OAuth2Error, RequestException) as error:  # before the way there is known
        return render_authentication_error(request, adapter.get_provider(), exception=error)


@login_not_required
def unknown_outside(request):
    return render(request, "account/signup_closed.html", {"is_outside": True}, status=403)


def prove_outside(request):
    """For who has neither a password nor a second step: the provider is asked once more."""
    then = request.GET.get("next", "")
    if not url_has_allowed_host_and_scheme(then, allowed_hosts=None):
        then = reverse("registry:account")
    apps = settings.SOCIALACCOUNT_PROVIDERS.get("openid_connect", {}).get("APPS", [])
    context = {
        "then": then,
        "provider": provider_name(),
        "provider_id": apps and apps[0]["provider_id"],
    }
    return render(request, "account/prove_outside.html", context)


class SessionsView(ListUserSessionsView):
    """Ends one session, or all but this one."""

    def get_context_data(self, **kwargs):
        context = super().get_context_data(**kwargs)
        for session in context["sessions"]:
            session.browser = browser_in(session.user_agent)
        return context

    def post(self, request, *args, **kwargs):
        if one := request.POST.get("session", ""):
            return self._end_one(request, one)
        return super().post(request, *args, **kwargs)

    @staticmethod
    def _end_one(request, one: str):
        if not one.isdecimal() or len(one) > 18:
            raise Http404(gettext("Not found."))
        end_sessions(request, [get_object_or_404(UserSession, user=request.user, pk=int(one))])
        messages.success(request, gettext("That session is ended."))
        return redirect("usersessions_list")


sessions_of_mine = shows_secret(SessionsView.as_view())  # ending one asks who one is


@require_safe
def own_log(request):
    rows = SignIn.objects.filter(person=request.user)[:SHOWN]
    manages = _managed(request.user).exists()
    return render(request, "registry/sign_in_log.html", {"rows": rows, "manages": manages})


@require_http_methods(["GET", "HEAD", "POST"])
@shows_secret
def log_of_people(request):
    """Of the people of the organisations that the person manages; a POST signs one of them out."""
    organisations = _managed(request.user)
    if not organisations.exists():
        raise PermissionDenied(gettext("Only a manager of an organisation may see this log."))
    people = User.objects.filter(memberships__organisation__in=organisations)
    rows = SignIn.objects.filter(person__in=people).select_related("person")
    if request.method == "POST":
        return _sign_out(request, people.filter(pk=key_in(request.POST.get("person"))).first())
    chosen = request.GET.get("person", "")
    if (key := key_in(chosen)) is not None:
        rows = rows.filter(person=key)
    context = {
        "rows": rows[:SHOWN],
        "people": people.distinct().order_by("name"),
        "chosen": chosen,
        "chosen_person": people.filter(pk=key_in(chosen)).first(),
        "organisations": organisations,
        "most": SHOWN,
    }
    return render(request, "registry/sign_in_log_people.html", context)


def _sign_out(request, person):
    if person is None:
        messages.info(request, gettext("Choose one of your people first. Nothing was done."))
        return redirect("registry:sign-in-log-people")
    end_sessions(request, list(UserSession.objects.filter(user=person)))
    messages.success(request, gettext("{name} is signed out everywhere.").format(name=person))
    return redirect("registry:sign-in-log-people")


def _managed(person):
    return Organisation.objects.filter(
        memberships__user=person, memberships__role=Membership.Role.MANAGER
    ).distinct()
