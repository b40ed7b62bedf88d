"""Sessions kept in the database; a cookie that no session of ours ever had is not asked for there."""

from __future__ import annotations

import re

from django.contrib.sessions.backends.db import SessionStore as DatabaseSessions

KEY = re.compile(r"[a-z0-9]{8,40}", re.ASCII)


class SessionStore(DatabaseSessions):
    """Django's own, but a key that holds, say, a zero byte is no key: PostgreSQL refuses to look for one."""

    def _validate_session_key(self, key: str | None) -> bool:
        return bool(key and KEY.fullmatch(key))
