"""Names that narrow what a command tells: one that nobody knows is a slip of the call."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable


def as_known(
    kind: str,
    name: str | None,
    known: Iterable[str],
    is_recorded: Callable[[str], bool] = lambda _: False,
) -> str | None:
    """Return a name as it is known, whatever its case; where none is, any name may be asked for.

    Parameters
    ----------
    kind : what the name should be of: workflow, customer, printer
    name : None where nobody named one
    is_recorded : asked last, whether the history knows a name that the files know no more

    Raises
    ------
    UsageError : nobody knows the name; says which is the nearest
    """
    from gatekeeper.errors import UsageError
    from gatekeeper.wording import did_you_mean, fold, quoted

    names = {fold(entry): entry for entry in known}
    if name is None or not names:
        return name
    if fold(name) in names:
        return names[fold(name)]
    if is_recorded(name):
        return name
    raise UsageError(f"no {kind} is called {quoted(name)}", do=did_you_mean(name, names.values()))
