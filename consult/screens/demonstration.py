"""Signing in by a press, for the demonstration on this machine alone."""

from __future__ import annotations

import ipaddress

from allauth.account.utils import perform_login
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.request import split_domain_port
from django.shortcuts import render
from django.urls import path
from django.views.decorators.csrf import csrf_protect
from django.views.decorators.http import require_http_methods

from consult.actions import demonstration
from consult.problems import NotFound
from consult.screens.page import ROLE_NAMES, problem_page, times

# What a proxy adds: behind one the peer is this machine, whoever asks.
FORWARDED = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-IP", "Via")


@require_http_methods(["GET", "HEAD", "POST"])
@csrf_protect
def press(request: HttpRequest, role: str, signed: str) -> HttpResponse:
    """Show whom the link signs in, or sign them in; refused like an unknown page wherever it is not for."""
    try:
        if not from_this_machine(request):
            raise NotFound
        member = demonstration.member_by_link(request.path)
    except NotFound as problem:
        return problem_page(request, problem)
    _, page, tasks = demonstration.LINKS[role]
    if request.method == "POST":
        answer: HttpResponse = perform_login(request, member.user, redirect_url=page)
        if request.user.is_authenticated:
            request.session["membership"] = str(member.pk)
        return answer
    shown = {"member": member, "role_name": ROLE_NAMES[role], "tasks": tasks, "zone": times()}
    return render(request, "account/demonstration.html", shown)


def from_this_machine(request: HttpRequest) -> bool:
    """Whether peer and asked-for host are loopback and no proxy stands between."""
    host, _ = split_domain_port(request.get_host())
    peer = request.META.get("REMOTE_ADDR", "")
    forwarded = any(name in request.headers for name in FORWARDED)
    return not settings.HTTPS and not forwarded and _is_loopback(peer) and (_is_loopback(host) or host == "localhost")


def _is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address.strip("[]")).is_loopback
    except ValueError:
        return False


urlpatterns = [path("demonstration/<str:role>/<str:signed>/", press, name="demonstration")]
