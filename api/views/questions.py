"""Consults without a drug: questions of crews, instructions of physicians, and what becomes of them."""

from __future__ import annotations

from api.serializers.orders import Reason
from api.serializers.questions import InstructionEntry, QuestionEntry, StepTaken
from api.views.base import CreateView, WriteView, told_of
from consult import access
from consult.actions import questions
from consult.resources.questions import WrittenInstruction, WrittenQuestion


class Questions(CreateView):
    """Ask a question as crew, without a drug: advice, a destination, a refusal of care, ending a resuscitation."""

    entry, answer = QuestionEntry, WrittenQuestion
    subject = told_of(access.case_for)
    kind, act = questions.QUESTION, staticmethod(questions.ask)


class WithdrawQuestion(WriteView):
    """Withdraw a question, as crew: no answer is needed anymore."""

    entry, answer = Reason, WrittenQuestion
    subject = told_of(access.question_for)
    kind, act = questions.WITHDRAW_QUESTION, staticmethod(questions.withdraw_question)


class Instructions(CreateView):
    """Tell the crew what to do, as a physician; may answer a question. Takes control if nobody has it."""

    entry, answer = InstructionEntry, WrittenInstruction
    subject = told_of(access.case_for)
    kind, act = questions.INSTRUCTION, staticmethod(questions.instruct)


class InstructionStep(WriteView):
    """A step of one instruction; any that does not follow from its state is 409 `wrong-state`."""

    answer = WrittenInstruction
    subject = told_of(access.instruction_for)


class InstructionUnderstood(InstructionStep):
    """Say that an instruction was understood."""

    entry, kind, act = StepTaken, questions.UNDERSTOOD, staticmethod(questions.understood)


class InstructionDone(InstructionStep):
    """Say that an instruction was done, once it was understood; accepted even if it was withdrawn meanwhile."""

    entry, kind, act = StepTaken, questions.DONE, staticmethod(questions.done)


class InstructionUnable(InstructionStep):
    """Say that an instruction is not possible, and why, once it was understood."""

    entry, kind, act = Reason, questions.UNABLE, staticmethod(questions.unable)


class WithdrawInstruction(InstructionStep):
    """Withdraw an instruction, as a physician, until it is done."""

    entry, kind, act = Reason, questions.WITHDRAW_INSTRUCTION, staticmethod(questions.withdraw_instruction)
