"""Parts of pictures that are made once and then stay the same objects, which costs nothing in the next frame."""

from collections.abc import Callable, Hashable
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")
MISSING: Any = object()
LIMIT = 400
"""So many parts are kept, and as many again that were asked for before them."""


class Kept:
    """What has been made, by what made it and all that it was made from.

    There is no other key, so nothing can be taken for a part that was made from something else. Whatever a part is made
    from must be hashable and never change; a method's own object counts as itself.
    """

    def __init__(self, limit: int = LIMIT) -> None:
        self._limit = limit
        self._new: dict[Hashable, Any] = {}
        self._old: dict[Hashable, Any] = {}

    def __call__(self, make: Callable[P, T], *arguments: P.args, **options: P.kwargs) -> T:
        """What `make` makes of these arguments."""
        key = (make, arguments, *options.items()) if options else (make, arguments)
        kept: T = self._new.get(key, MISSING)
        if kept is not MISSING:
            return kept
        kept = self._old.get(key, MISSING)
        if kept is MISSING:
            kept = make(*arguments, **options)
        if len(self._new) >= self._limit:
            self._old, self._new = self._new, {}
        self._new[key] = kept
        return kept
