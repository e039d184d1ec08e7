"""Random forms to be written as files and read back: figures over bars, variants, tails, rests, cuts, late starts.

Each is a spec's text made from a seed; seeds below 1000 were used while the finder was written, those from 5000 on only
to measure it.
"""

from collections.abc import Iterator
from random import Random

METERS = ("4/4", "4/4", "4/4", "3/4", "7/8", "6/8", "5/4")
PULSES = ("1/16", "1/16", "1/16", "1/8", "1/12")


def form_text(seed: int) -> str:
    """A piece of two to five sections in which one figure at least runs over and over."""
    random = Random(seed)
    groups = _groups(random)
    figures = {"kiln": groups, "brief": _variant(random, groups), "bell": _groups(random)}
    inner = random.random() < 0.3
    lines = [
        "title: Kiln Song",
        f"tempo: {random.choice((84, 96, 112, 126, 140))}",
        f"meter: {random.choice(METERS)}",
        f"pulse: {random.choice(PULSES)}",
        "figures:",
        *(f"  {name}: {_figure(random, row, inner)}" for name, row in figures.items()),
        "form:",
    ]
    for index in range(random.randint(2, 5)):
        lines += [f"  - section: S{index + 1}", f"    bars: {random.randint(6, 16)}"]
        if random.random() < 0.6:
            lines.append(
                f"    harmony: {{1: {random.choice(('Em', 'Dm7', 'G'))}, -2: {random.choice(('C', 'Am'))}}}"
            )
        lines += [f"    {line}" for line in _plays(random, index)]
    return "\n".join(lines) + "\n"


def _groups(random: Random) -> list[int]:
    while True:
        row = [random.randint(2, 5) for _ in range(random.randint(2, 5))]
        if 5 <= sum(row) <= 19 and len({*row}) > 1:
            return row


def _variant(random: Random, groups: list[int]) -> list[int]:
    row = [*groups]
    if random.random() < 0.5 and len(row) > 2:
        del row[random.randrange(len(row))]
    else:
        row[random.randrange(len(row))] += random.choice((-1, 1))
    return row


def _figure(random: Random, groups: list[int], inner: bool) -> str:
    if not inner:
        return f"[{', '.join(map(str, groups))}]"
    return " ".join("X" + "".join(random.choice(".x") for _ in range(size - 1)) for size in groups)


def _plays(random: Random, index: int) -> Iterator[str]:
    kind = random.random()
    main = "kiln" if index == 0 or random.random() < 0.6 else random.choice(("brief", "bell"))
    if index and kind < 0.15:
        yield "plays: on"
        return
    if kind < 0.6:
        yield f"plays: {main}"
    else:
        other = random.choice(("brief", "bell"))
        middle = random.choice(
            (
                f"{{tail: [{random.randint(2, 4)}, {random.randint(2, 4)}]}}",
                f"{{rest: {random.randint(2, 6)}}}",
                f"{{figure: {other}, times: {random.randint(2, 4)}}}",
                f"{{first: 1 group, of: {main}}}",
            )
        )
        yield f"plays: [{{figure: {main}, times: {random.randint(3, 5)}}}, {middle}, {main}]"
    if index and random.random() < 0.35:
        yield f"starts: {random.choice(('after', 'after', '1.2'))}"
