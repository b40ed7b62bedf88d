"""How allauth signs people in here: what it answers where the board has no page of allauth's."""

from __future__ import annotations

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest, HttpResponse

from consult.models import User
from consult.problems import Forbidden
from consult.screens.page import problem_page


class Adapter(DefaultAccountAdapter):
    """Signing in as allauth does it, with the board's own refusals."""

    def respond_user_inactive(self, request: HttpRequest, user: User) -> HttpResponse:
        """The right password of an account that was closed: only its owner can see this."""
        return problem_page(request, Forbidden("This account was closed. Ask whoever manages your agency's accounts."))
