from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, LogoutView, PasswordChangeView
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils.decorators import method_decorator

from registry.forms.account import AccountForm, SignInForm


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    template_name = "registry/sign_in.html"
    form_class = SignInForm
    redirect_authenticated_user = True


class SignOut(LogoutView):
    pass


class ChangePassword(PasswordChangeView):
    template_name = "registry/password.html"
    success_url = reverse_lazy("registry:account")


def account(request):
    form = AccountForm(request.POST or None, instance=request.user)
    if form.is_valid():
        form.save()
        messages.success(request, "Saved. Every page now follows it.")
        return redirect("registry:account")
    memberships = request.user.memberships.select_related("organisation")
    return render(request, "registry/account.html", {"form": form, "memberships": memberships})
