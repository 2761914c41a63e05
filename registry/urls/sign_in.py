"""Addresses of signing in, by the names that django-allauth asks for: only what the book offers."""

from allauth.account import views as account
from allauth.mfa.base import views as second_step
from allauth.mfa.recovery_codes import views as codes
from allauth.mfa.totp import views as app
from allauth.mfa.webauthn import views as passkeys
from allauth.socialaccount import views as outside
from django.contrib.auth.decorators import login_not_required
from django.urls import path, re_path

from registry.views import sign_ins

KEY = r"(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)"

urlpatterns = [
    path("admin/login/", sign_ins.keeper_sign_in, name="keeper-sign-in"),
    path("sign-in/", sign_ins.sign_in, name="account_login"),
    path("sign-out/", account.logout, name="account_logout"),
    path("sign-in/closed/", account.account_inactive, name="account_inactive"),
    path("sign-in/no-account/", account.signup, name="account_signup"),
    path("sign-in/forgotten/", account.password_reset, name="account_reset_password"),
    path(
        "sign-in/forgotten/sent/", account.password_reset_done, name="account_reset_password_done"
    ),
    re_path(
        rf"^sign-in/new-password/{KEY}/$",
        account.password_reset_from_key,
        name="account_reset_password_from_key",
    ),
    path(
        "sign-in/new-password/done/",
        account.password_reset_from_key_done,
        name="account_reset_password_from_key_done",
    ),
    path("sign-in/second-step/", second_step.authenticate, name="mfa_authenticate"),
    path("sign-in/passkey/", passkeys.login_webauthn, name="mfa_login_webauthn"),
    path("sign-in/at/cancelled/", outside.login_cancelled, name="socialaccount_login_cancelled"),
    path(
        "sign-in/at/failed/",
        login_not_required(outside.login_error),
        name="socialaccount_login_error",
    ),
    path("sign-in/at/unknown/", sign_ins.unknown_outside, name="socialaccount_signup"),
    path("sign-in/at/<str:provider_id>/", sign_ins.go_outside, name="openid_connect_login"),
    path(
        "sign-in/at/<str:provider_id>/back/",
        sign_ins.come_from_outside,
        name="openid_connect_callback",
    ),
    path("confirm/", account.reauthenticate, name="account_reauthenticate"),
    path("confirm/code/", second_step.reauthenticate, name="mfa_reauthenticate"),
    path("confirm/passkey/", passkeys.reauthenticate_webauthn, name="mfa_reauthenticate_webauthn"),
    path("account/password/", account.password_change, name="account_change_password"),
    path("account/password/set/", account.password_set, name="account_set_password"),
    path("account/sessions/", sign_ins.sessions_of_mine, name="usersessions_list"),
    path("account/second-step/", sign_ins.second_step, name="mfa_index"),
    path("account/second-step/app/", app.activate_totp, name="mfa_activate_totp"),
    path("account/second-step/app/remove/", app.deactivate_totp, name="mfa_deactivate_totp"),
    path("account/second-step/passkeys/", passkeys.list_webauthn, name="mfa_list_webauthn"),
    path("account/second-step/passkeys/add/", passkeys.add_webauthn, name="mfa_add_webauthn"),
    path(
        "account/second-step/passkeys/<int:pk>/", passkeys.edit_webauthn, name="mfa_edit_webauthn"
    ),
    path(
        "account/second-step/passkeys/<int:pk>/remove/",
        sign_ins.remove_passkey,
        name="mfa_remove_webauthn",
    ),
    path("account/second-step/codes/", codes.view_recovery_codes, name="mfa_view_recovery_codes"),
    path(
        "account/second-step/codes/new/",
        codes.generate_recovery_codes,
        name="mfa_generate_recovery_codes",
    ),
    path(
        "account/second-step/codes/file/",
        codes.download_recovery_codes,
        name="mfa_download_recovery_codes",
    ),
    path("account/outside/", outside.connections, name="socialaccount_connections"),
]
