"""Characters that nobody sees: in a name or a label two things would look the same and be different."""

from __future__ import annotations

import re

# Control characters, line and paragraph separators, what turns the direction of reading, and what the Unicode Standard
# calls default ignorable (DerivedCoreProperties.txt, Default_Ignorable_Code_Point); the braille blank looks like them.
_CONTROLS = "\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufff9-\ufffb"
_TURNING = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
_BLANK = (
    "\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b\u2060-\u2065\u206a-\u206f\u2800\u3164\ufeff\uffa0\ufff0-\ufff8"
    "\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e0fff"
)
# Some scripts and emoji are written with these, so a told complaint may hold them; a name may not.
_JOINING = "\u00ad\u200c\u200d\ufe00-\ufe0f"

NOT_IN_LINES = re.compile(f"[{_CONTROLS}{_TURNING}{_BLANK}]")
NOT_IN_A_LINE = re.compile(f"[{_CONTROLS}{_TURNING}{_BLANK}\t\n\r]")
NOT_IN_A_NAME = re.compile(f"[{_CONTROLS}{_TURNING}{_BLANK}{_JOINING}\t\n\r]")
