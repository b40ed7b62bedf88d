"""The page of a one-time sign-in link: its visitor sets a password and is signed in.

Only the form's POST uses the link up: a mail scanner that follows it leaves it whole.
"""

from __future__ import annotations

from typing import Any

from allauth.account.utils import perform_login
from allauth.core import ratelimit
from django.contrib.auth.forms import SetPasswordForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.csrf import csrf_protect
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from consult import clock
from consult.actions import sign_in_links
from consult.models import SignInLink
from consult.problems import NotFound, TooMany
from consult.screens.page import ROLE_NAMES, problem_page, times
from dosing.ground.language import gettext as _


class PasswordForm(SetPasswordForm):
    """The two fields, in our words."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        first, second = self.fields["new_password1"], self.fields["new_password2"]
        first.label, second.label = _("Password"), _("Repeat the password")
        first.help_text = _("At least 12 characters. Use several unrelated words, not your name or a pattern.")
        second.help_text = ""
        first.widget.attrs["autofocus"] = True

    def clean(self) -> dict[str, Any]:
        """Refuse a bad password at the field where it was typed first."""
        self.validate_passwords("new_password1", "new_password2")
        self.validate_password_for_user(self.user, "new_password1")
        return self.cleaned_data


@require_http_methods(["GET", "HEAD", "POST"])
@csrf_protect
@sensitive_post_parameters("new_password1", "new_password2")
def sign_in_link(request: HttpRequest, text: str) -> HttpResponse:
    """Show the form, or take the password and sign in; one plain page for every link that does not work."""
    if not ratelimit.consume(request, action="sign_in_link"):  # counts POST alone
        return problem_page(request, TooMany())
    try:
        link = sign_in_links.found(text, clock.now())
        form = PasswordForm(link.membership.user, request.POST or None)
        if request.method == "POST" and form.is_valid():
            return _sign_in(request, text, form.cleaned_data["new_password1"])
    except NotFound:
        return _answer(render(request, "account/link_gone.html", {"zone": times()}, status=NotFound.status))
    return _answer(render(request, "account/link.html", {"form": form, "zone": times(), **_who(link)}))


def _sign_in(request: HttpRequest, text: str, password: str) -> HttpResponse:
    member = sign_in_links.use(text, password, clock.now())
    answer = perform_login(request, member.user, redirect_url="/")  # by way of the second factor, where there is one
    if request.user.is_authenticated:
        request.session["membership"] = str(member.pk)
    return _answer(answer)


def _who(link: SignInLink) -> dict[str, object]:
    member = link.membership
    return {
        "username": member.user.username if member.user else "",
        "member": member,
        "role_name": ROLE_NAMES[member.role],
        "agency_name": member.agency.name,
    }


def _answer(response: HttpResponse) -> HttpResponse:
    """The address is the secret: it goes to no other site, and no cache or search engine keeps it."""
    response["Referrer-Policy"] = "same-origin"  # no-referrer would blank the Origin by which the POST is checked
    response["Cache-Control"] = "no-store"
    response["X-Robots-Tag"] = "noindex"
    return response


urlpatterns = [path("sign-in/link/<str:text>/", sign_in_link, name="sign-in-link")]
