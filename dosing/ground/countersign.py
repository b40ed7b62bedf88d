"""What of a voice order waits for its physician."""

from __future__ import annotations

from msgspec import Struct

from dosing.ground.kinds import Id, Time


class Countersign(Struct, frozen=True, kw_only=True):
    """A dose ordered by voice that its physician has not countersigned yet, entered at ``since``.

    ``physician`` is the membership that is named, ``by`` the name, ``ordered_at`` when it was said.
    """

    id: Id
    shown: str
    physician: Id
    by: str
    ordered_at: Time
    since: Time
