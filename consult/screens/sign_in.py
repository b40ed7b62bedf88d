"""The choice of the membership that a person acts as; signing in and out itself is allauth's."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods

from consult import access
from consult.screens.page import ROLE_NAMES, times, to_sign_in


@require_http_methods(["GET", "HEAD", "POST"])
def choose(request: HttpRequest) -> HttpResponse:
    """Choose as what to act, where a person is a member of several agencies or has several roles."""
    if not request.user.is_authenticated:
        return to_sign_in(request)
    memberships = access.memberships_of(request.user)
    chosen = request.POST.get("membership")
    if any(str(membership.pk) == chosen for membership in memberships):
        request.session["membership"] = chosen
        return redirect(_next(request))
    shown = [
        {"id": each.pk, "agency": each.agency.name, "role": ROLE_NAMES[each.role], "unit": each.unit}
        for each in memberships
    ]
    return render(request, "account/choose.html", {"memberships": shown, "next": _next(request), "zone": times()})


def _next(request: HttpRequest) -> str:
    wanted = request.POST.get("next") or request.GET.get("next") or "/"
    is_ours = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return wanted if is_ours else "/"


urlpatterns = [path("choose/", choose, name="choose")]
