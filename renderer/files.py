"""Files that appear whole or not at all."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a temporary path beside `path`; move it there when the block ends well, remove it when it raises.

    The temporary name keeps the ending, so that a writer that goes by it writes the right format. Raises OSError.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem}-", suffix=path.suffix)
    os.close(handle)
    unfinished = Path(name)
    try:
        yield unfinished
        unfinished.chmod(0o666 & ~_umask())
        unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
