"""The ways out of the board: e-mail, and signed posts to a program. What goes out holds nothing about a patient.

A post is JSON with the notification's `id`, which is the same each time it is tried. `X-Board-Timestamp` is the time of
sending in seconds since 1970, `X-Board-Signature` the hexadecimal HMAC-SHA256, by the destination's secret, of that
number, a line feed and the body. No redirect is followed, and of the answer its status alone is read.
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import re
import smtplib
from collections.abc import Sequence
from datetime import datetime
from urllib.parse import urlsplit
from uuid import UUID
from zoneinfo import ZoneInfo

import httpx
import msgspec
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMessage, get_connection
from django.core.validators import validate_email

from consult import kept_secret
from consult.case.escalation import EscalationTold
from consult.problems import Invalid
from dosing.ground.language import gettext as _

LONGEST_S = 5
ADDRESS_MOST = 400
PRINTED = re.compile(r"[\x21-\x7e]+")
LOOPBACK = ("localhost", "127.0.0.1", "::1")  # where a program of this very machine listens, as in tests
CAUTION = _(
    "Decision support only: local protocol and the licensed clinician decide. "
    "Answer on the board; do not reply to this mail."
)


class Message(msgspec.Struct, frozen=True, kw_only=True):
    """One notification on its way to one destination."""

    id: UUID
    how: str
    address: str
    secret: str
    facts: EscalationTold


def email_address(text: str) -> str:
    """The address as it is kept; raises ``Invalid``."""
    try:
        validate_email(text.strip())
    except ValidationError:
        raise Invalid(f"{text!r} is not an e-mail address.") from None
    return text.strip()


def webhook_address(text: str) -> str:
    """The address as it is kept: https, or http on this machine, without a user name; raises ``Invalid``."""
    try:
        parts = urlsplit(text)
        host, _ = parts.hostname or "", parts.port
    except ValueError:
        raise Invalid(f"{text!r} is not an address.") from None
    safe = parts.scheme == "https" or (parts.scheme == "http" and host in LOOPBACK)
    if not safe or not host or not PRINTED.fullmatch(text) or len(text) > ADDRESS_MOST:
        raise Invalid(f"A webhook needs an address such as https://example.org/hook, not {text!r}.")
    if "@" in parts.netloc or parts.fragment:
        raise Invalid("A webhook's address holds no user name, password or fragment: its posts are signed.")
    return text


def board_address() -> str:
    """Where the board is open to people: its name, else where it was served last on this machine."""
    if settings.HTTPS:
        return f"https://{settings.ALLOWED_HOSTS[0].lstrip('.')}"
    return settings.ADDRESS_FILE.read_text() if settings.ADDRESS_FILE.exists() else "http://127.0.0.1:8000"


def send(messages: Sequence[Message], now: datetime) -> list[str]:
    """Send all of them, the posts side by side; for each why it could not be sent, "" where it was."""
    return asyncio.run(_send(messages, now))


async def _send(messages: Sequence[Message], now: datetime) -> list[str]:
    async with httpx.AsyncClient(timeout=LONGEST_S, follow_redirects=False, trust_env=False) as client:
        ways = (_post(client, each, now) if each.how == "webhook" else _mail(each) for each in messages)
        return list(await asyncio.gather(*ways))


async def _post(client: httpx.AsyncClient, message: Message, now: datetime) -> str:
    content = body(message)
    try:
        headers = signed(content, kept_secret.shown(message.secret), now)
        async with (
            asyncio.timeout(LONGEST_S),
            client.stream("POST", message.address, content=content, headers=headers) as answer,
        ):
            return "" if answer.is_success else f"it answered {answer.status_code}"
    except (httpx.HTTPError, httpx.InvalidURL, OSError, TimeoutError) as fault:
        return type(fault).__name__
    except ValueError as fault:
        return str(fault)


def body(message: Message) -> bytes:
    """What is posted."""
    told = {
        "id": message.id,
        "kind": "alert.escalated",
        **msgspec.structs.asdict(message.facts),
        "link": _link(message),
    }
    return msgspec.json.encode(told)


def signed(content: bytes, secret: str, now: datetime) -> dict[str, str]:
    """The headers of a post: its type, when it was sent, and its signature."""
    stamp = str(int(now.timestamp()))
    signature = hmac.new(secret.encode(), stamp.encode() + b"\n" + content, hashlib.sha256).hexdigest()
    return {"Content-Type": "application/json", "X-Board-Timestamp": stamp, "X-Board-Signature": signature}


def _link(message: Message) -> str:
    return f"{board_address()}/cases/{message.facts.case}/"


async def _mail(message: Message) -> str:
    if not settings.EMAIL_HOST:
        return "EMAIL_URL is not set"
    try:
        await asyncio.to_thread(_mailed(message).send)
    except (OSError, smtplib.SMTPException, ValueError) as fault:
        return type(fault).__name__
    return ""


def _mailed(message: Message) -> EmailMessage:
    facts = message.facts
    what, to = facts.alert.replace("_", " "), facts.escalated_to
    since, at = (
        moment.astimezone(ZoneInfo(facts.timezone)).strftime("%H:%M %Z") for moment in (facts.since, facts.escalated_at)
    )
    lines = (
        _(
            "{unit}: {alert}, {priority}, not acknowledged since {since}.",
            unit=facts.unit,
            alert=what,
            priority=facts.priority,
            since=since,
        ),
        _("Escalated to the {role} at {time}.", role=to, time=at),
        _link(message),
        f"{facts.agency}. {CAUTION}",
    )
    return EmailMessage(
        _("{unit}: {priority} alert escalated to the {role}", unit=facts.unit, priority=facts.priority, role=to),
        "\n\n".join(lines),
        to=[message.address],
        headers={"Message-ID": f"<{message.id}@consult-board>", "Auto-Submitted": "auto-generated"},
        connection=get_connection(),
    )
