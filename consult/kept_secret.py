"""Secrets that are read again, such as those that sign: encrypted with keys made of SECRET_KEY and its fallbacks."""

from __future__ import annotations

import base64
import hashlib

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from django.conf import settings


def _keys() -> MultiFernet:
    secrets = (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
    digests = (hashlib.sha256(b"kept secret\0" + secret.encode()).digest() for secret in secrets)
    return MultiFernet([Fernet(base64.urlsafe_b64encode(digest)) for digest in digests])


def hidden(text: str) -> str:
    """The text as it is kept."""
    return _keys().encrypt(text.encode()).decode()


def shown(kept: str) -> str:
    """The text again; raises ValueError where the key that hid it is gone."""
    try:
        return _keys().decrypt(kept.encode()).decode()
    except InvalidToken:
        raise ValueError("its secret cannot be read under this SECRET_KEY") from None
