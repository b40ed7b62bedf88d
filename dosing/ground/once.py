"""What is worked out when it is first asked for, and kept with its object."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Generic, TypeVar

Value = TypeVar("Value")


class once(Generic[Value]):  # noqa: N801  used as a decorator, as `property` is
    """A property that its object keeps once it is worked out.

    That of ``functools`` takes a lock each time in Python 3.11, which costs more than many of the values.
    """

    def __init__(self, work: Callable[[Any], Value]) -> None:
        self.work, self.__doc__ = work, work.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def __get__(self, instance: Any, owner: type | None = None) -> Value:
        value = instance.__dict__[self.name] = self.work(instance)
        return value
