"""An act that rolls back leaves no changed objects behind: what it was handed is as it was before.

Acts bring the objects they were handed up to date (``site.stage`` after handing over), and the database's rollback
does not reach those. A page that then shows such an object would tell of what did not happen.
"""

from collections.abc import Callable, Iterable, Iterator
from copy import copy
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.db.models import Model

P = ParamSpec("P")
R = TypeVar("R")


def unchanged_if_refused(act: Callable[P, R]) -> Callable[P, R]:
    """``act``, whose rows and their loaded relations are as before where it raises."""

    @wraps(act)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
        before = _looked_at([*args, *kwargs.values()])
        try:
            return act(*args, **kwargs)
        except BaseException:
            _put_back(before)
            raise

    guarded.leaves_objects_unchanged = True  # type: ignore[attr-defined]  # for the test that asks it of every act
    return guarded


_Looks = list[tuple[Model, dict[str, Any], dict[str, Any], bool]]


def _looked_at(handed: Iterable[Any]) -> _Looks:
    """Each row among ``handed`` and what was loaded with it: its values, its relations, and whether it is new."""
    looks: _Looks = []
    seen: set[int] = set()
    waiting = list(_rows(handed))
    while waiting:
        row = waiting.pop()
        if id(row) in seen:
            continue
        seen.add(id(row))
        state = row._state
        values = {name: _kept(value) for name, value in vars(row).items() if name != "_state"}
        looks.append((row, values, dict(state.fields_cache), state.adding))
        waiting += _rows(state.fields_cache.values())
    return looks


def _put_back(looks: _Looks) -> None:
    for row, values, relations, adding in looks:
        state = row._state
        vars(row).clear()
        vars(row).update(values, _state=state)
        state.fields_cache.clear()
        state.fields_cache.update(relations)
        state.adding = adding


def _rows(values: Iterable[Any]) -> Iterator[Model]:
    for value in values:
        if isinstance(value, Model):
            yield value
        elif isinstance(value, list | tuple):
            yield from _rows(value)


def _kept(value: Any) -> Any:
    return copy(value) if isinstance(value, dict | list | set) else value
