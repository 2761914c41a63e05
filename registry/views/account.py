from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, LogoutView, PasswordChangeView
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.utils.decorators import method_decorator
from django.utils.translation import gettext

from registry.forms.account import AccountForm, SignInForm
from registry.models import Organisation


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    """Contractors begin at their work, everybody else at the portfolio."""

    template_name = "registry/sign_in.html"
    form_class = SignInForm
    redirect_authenticated_user = True

    def get_redirect_url(self):
        asked = super().get_redirect_url()
        return "" if asked == reverse("reports:portfolio") else asked

    def get_default_redirect_url(self):
        return reverse("scheduling:work" if self._is_contractor() else "reports:portfolio")

    def _is_contractor(self):
        kinds = set(self.request.user.organisations.values_list("kind", flat=True))
        return kinds == {Organisation.Kind.CONTRACTOR}


class SignOut(LogoutView):
    pass


class ChangePassword(PasswordChangeView):
    template_name = "registry/password.html"
    success_url = reverse_lazy("registry:account")


def account(request):
    form = AccountForm(request.POST or None, instance=request.user)
    if form.is_valid():
        form.save()
        messages.success(request, gettext("Saved. Every page now follows it."))
        return redirect("registry:account")
    memberships = request.user.memberships.select_related("organisation")
    return render(request, "registry/account.html", {"form": form, "memberships": memberships})
