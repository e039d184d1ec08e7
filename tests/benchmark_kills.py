"""Renders killed at random moments, the command or a worker, then finished: the bytes must be the same each time.

python -m tests.benchmark_kills [--kills 200] [--seed 1]
"""

import argparse
import random
import tempfile
from collections import Counter
from pathlib import Path

from tests.kills import Kills


def main() -> None:
    """Print how many of what were killed; end with an error at the first film that is not as it should be."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    chance = random.Random(options.seed)
    with tempfile.TemporaryDirectory() as folder:
        kills = Kills(Path(folder))
        print(f"an undisturbed render takes {kills.seconds:.1f} s")
        killed = Counter(kills.kill(chance) for _ in range(options.kills))
    for what, count in killed.most_common():
        print(f"{count:4} times killed {what}: the same bytes after the next run")


if __name__ == "__main__":
    main()
