"""All addresses: pages, the REST API, signing in, health."""

from allauth.account import views as account
from django.urls import include, path

from consult.screens.account import SignIn
from consult.service import health

# An agency makes its accounts, so there is no sign-up and no mail: only what a person with an account needs.
account_patterns = [
    path("sign-in/", SignIn.as_view(), name="account_login"),
    path("sign-out/", account.logout, name="account_logout"),
    path("account/confirm/", account.reauthenticate, name="account_reauthenticate"),
    path("account/password/", account.password_change, name="account_change_password"),
    path("account/second-factor/", include("allauth.mfa.urls")),
]

urlpatterns = [
    path("api/v1/", include("api.urls")),
    path("healthz", health.healthz, name="healthz"),
    path("readyz", health.readyz, name="readyz"),
    path("metrics", health.metrics, name="metrics"),
    *account_patterns,
    path("", include("consult.screens.urls")),
]
