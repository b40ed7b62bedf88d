"""Every kind of journal entry: one small structure each, whose docstring is its documentation.

`kind` is the name in the journal; the fields are what the journal keeps under `data`.
"""

from consult.events.alerts import *
from consult.events.base import Event as Event
from consult.events.care import *
from consult.events.case import *
from consult.events.orders import *
from consult.events.people import *
from consult.events.questions import *
from consult.events.rules import *
