"""What the crew answers to a physician's question about its request."""

from __future__ import annotations

from msgspec.structs import replace

from consult import events, problems
from consult.case.decide import order_book
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.decide.order_book import moved
from consult.case.entries import AnswerEntry
from consult.case.fold.ordered import REQUESTED
from consult.clock import utc_seconds
from consult.state.parts import Order
from dosing.ground.language import gettext as _

ANSWERED = "answered"


def answer(known: Known, asked: Asked[AnswerEntry], order: Order) -> Decided:
    """Answer the question that stands about a request; raises WrongState where none does."""
    order_book.require(order, asked.now, REQUESTED)
    question = order.open_question
    if question is None:
        raise problems.WrongState(_not_asked(order))
    if asked.content.question not in (None, question):
        raise problems.WrongState(_("There is a newer query: “{question}”", question=question))
    text = asked.content.text
    answered = moved(replace(order, answer=text), REQUESTED, asked.now, asked.by, step=ANSWERED, text=text)
    event = events.OrderAnswered(order=order.id, shown=order.shown, question=question, text=text, became=answered)
    return Decided([event])


def _not_asked(order: Order) -> str:
    """Why there is nothing to answer: nothing was asked, or who answered it when."""
    given = next((each for each in reversed(order.steps) if each.step == ANSWERED), None)
    if given is None:
        return _("There is no query on this request.")
    return _("The query was answered by {by} at {time}.", by=given.by, time=utc_seconds(given.at))
