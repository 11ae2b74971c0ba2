"""The check that each edit's result passes: it breaks no rule that its rig kept."""

import functools
from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any, Concatenate, ParamSpec, cast

from rackwright.model import rules
from rackwright.model.edits.sharing import EditError
from rackwright.model.rig import Rig

P = ParamSpec("P")


def unchecked(edit: Callable[P, Rig]) -> Callable[P, Rig]:
    """The same edit without the check of its result, for a caller that makes thousands and checks the one it keeps."""
    return cast(Callable[P, Rig], getattr(edit, "__wrapped__", edit))


def checked(edit: Callable[Concatenate[Rig, P], Rig]) -> Callable[Concatenate[Rig, P], Rig]:
    """The edit, refused with the words of a rule where its result breaks one that its rig kept."""

    @functools.wraps(edit)
    def edited(rig: Rig, /, *args: P.args, **kwargs: P.kwargs) -> Rig:
        after = edit(rig, *args, **kwargs)
        if after is not rig:
            refuse_new_breach(rig, after)
        return after

    return edited


def refuse_new_breach(before: Rig, after: Rig) -> None:
    """Raise EditError where `after` breaks a rule that `before` did not."""
    breaches = rules.check(after)
    if not breaches:
        return
    known = Counter(problem.wrong for problem in rules.check(before))
    for problem in breaches:
        if known[problem.wrong] == 0:
            ids = _ids_on(after, problem.path) or [str(problem.path[0])]
            raise EditError(str(problem) if ids[-1] in problem.wrong else f"{' '.join(ids)}: {problem}")
        known[problem.wrong] -= 1


def _ids_on(rig: Rig, path: rules.Path) -> list[str]:
    """The ids of the things on the path to a breach, the outermost first."""
    at: Any = rig
    ids = []
    for step in path:
        at = at[step] if isinstance(step, int) or isinstance(at, Mapping) else getattr(at, step, None)
        if hasattr(at, "id"):
            ids.append(at.id)
    return ids
