"""Names for sounds: hashes of what they are made from."""

from collections.abc import Iterable
from hashlib import blake2b

import numpy as np

DIGEST = 20
"""Bytes."""


def digest_of(pieces: Iterable[bytes | np.ndarray]) -> bytes:
    """A hash of all pieces in their order."""
    state = blake2b(digest_size=DIGEST)
    for piece in pieces:
        state.update(piece if isinstance(piece, bytes) else np.ascontiguousarray(piece).data)
    return state.digest()
