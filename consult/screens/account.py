"""How allauth signs people in here: whoever guesses has to wait, and a device that somebody signed in on is known."""

from __future__ import annotations

import hashlib
import secrets
import threading
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.views import LoginView
from django.conf import settings
from django.core import signing
from django.core.exceptions import ValidationError
from django.forms import Form
from django.http import HttpRequest, HttpResponse

from consult import clock
from consult.actions import sign_in
from consult.models import User
from consult.problems import Forbidden
from consult.screens.page import problem_page
from dosing.ground.language import gettext as _

SALT = "device"
DEVICE_KNOWN_S = 180 * 24 * 60 * 60
PEOPLE_OF_A_DEVICE = 20  # a station's tablet has as many
# A password is hashed in 100 MB on purpose: more at once would take the board's memory.
HASHING = threading.BoundedSemaphore(2)


class Adapter(DefaultAccountAdapter):
    """Signing in as allauth does it, with the board's own patience and refusals."""

    def authenticate(self, request: HttpRequest, **credentials: Any) -> User | None:
        """Whose name and password these are; a ValidationError says how long to wait, `request.wait_s` too."""
        name = credentials.get("username", "")
        device = Device.of(request)
        try:
            made = sign_in.tried(
                name, self.get_client_ip(request), clock.now(), device=device.id if device.knows(name) else ""
            )
        except sign_in.TooSoon as too_soon:
            request.wait_s = too_soon.seconds  # type: ignore[attr-defined]
            raise ValidationError(str(too_soon), code="too_soon") from None
        with HASHING:
            user: User | None = super().authenticate(request, **credentials)
        if user:
            sign_in.succeeded(made)
        return user

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """Nothing: allauth's own throttle locks people out."""

    def post_login(self, request: HttpRequest, user: User, **options: Any) -> HttpResponse:
        """Lead on; from now on this device is known as one of this person's."""
        answer: HttpResponse = super().post_login(request, user, **options)
        Device.of(request).with_person(user.username).keep_in(answer)
        return answer

    def respond_user_inactive(self, request: HttpRequest, user: User) -> HttpResponse:
        """The right password of an account that was closed: only its owner can see this."""
        return problem_page(request, Forbidden(_("This account was closed. Ask your agency's administrator.")))


class SignIn(LoginView):
    """allauth's sign-in page; whoever has to wait is told so by the status too."""

    def form_invalid(self, form: Form) -> HttpResponse:
        """The form again, with what is wrong."""
        answer: HttpResponse = super().form_invalid(form)
        if wait_s := getattr(self.request, "wait_s", 0):
            answer.status_code = 429
            answer["Retry-After"] = str(wait_s)
        return answer


class Device:
    """A browser that people have signed in on: an id of its own, and who, as digests; kept in a signed cookie."""

    def __init__(self, id: str, people: tuple[str, ...] = ()) -> None:
        self.id, self.people = id, people

    @classmethod
    def of(cls, request: HttpRequest) -> Device:
        """The device that the request comes from, or a new one that knows nobody."""
        try:
            said = signing.loads(
                request.COOKIES.get(settings.DEVICE_COOKIE_NAME, ""), salt=SALT, max_age=DEVICE_KNOWN_S
            )
            return cls(said["id"], tuple(said["people"]))
        except signing.BadSignature:
            return cls(secrets.token_urlsafe(12))

    def knows(self, name: str) -> bool:
        """Whether the person of this user name has signed in here."""
        return _digest(self.id, name) in self.people

    def with_person(self, name: str) -> Device:
        """The device after this person has signed in on it; those that came last are kept."""
        person = _digest(self.id, name)
        others = tuple(each for each in self.people if each != person)
        return Device(self.id, (person, *others)[:PEOPLE_OF_A_DEVICE])

    def keep_in(self, answer: HttpResponse) -> None:
        """Have the browser remember it."""
        text = signing.dumps({"id": self.id, "people": self.people}, salt=SALT)
        secure = bool(settings.SESSION_COOKIE_SECURE)
        answer.set_cookie(
            settings.DEVICE_COOKIE_NAME, text, max_age=DEVICE_KNOWN_S, secure=secure, httponly=True, samesite="Lax"
        )


def _digest(device: str, name: str) -> str:
    return hashlib.sha256(f"{device}\0{name.strip().casefold()}".encode(errors="replace")).hexdigest()[:22]
