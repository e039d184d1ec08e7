"""Damaged specs by the thousand: `python -m tests.fuzz --minutes N` looks for what `check` does not stand.

Each is one of the examples, the reference's or a test's own specs, with some of it cut, doubled, exchanged or
overwritten, or one of the awkward texts. Each is read and, if it is a spec, planned, described, written as JSON and
its segments scheduled. Found is: anything but an answer, a mistake without its place, more than a second.
"""

import argparse
import json
import random
import re
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from renderer.core.errors import BarcrossError
from renderer.lesson.lesson import open_planned
from renderer.report.section_advice import describe
from renderer.report.timeline_json import timeline_json_parts
from tests.awkward_texts import AWKWARD, PLAIN
from tests.spec_texts import EVERYTHING

SPECS = Path(__file__).parent.parent / "specs"
SECONDS = 1.0
WORDS = [
    *"{}[],:#&*!|>'\"%@`?-\t\n\r\\ x0.",
    *(": ", " #m", "- ", "\n    ", "again: Theme", "plays: on", "voices: {a: on}", "{to: 80}", "repeat: 3"),
    *(
        "999999999",
        "-1",
        "0.4",
        "starts: after",
        "times: 3.5",
        "{tail: [4, 4]}",
        "1/1024",
        "64/64",
        "\x85",
        "é",
    ),
]


def sources() -> list[str]:
    """The specs to begin from."""
    page = (SPECS / "REFERENCE.md").read_text(encoding="utf-8")
    examples = re.findall(r"```yaml[^\n]*\n(.*?)```", page, re.DOTALL)
    whole = [path.read_text(encoding="utf-8") for path in sorted(SPECS.glob("*.yaml"))]
    return [
        *whole,
        EVERYTHING,
        PLAIN,
        *(example if "form:" in example else PLAIN + example for example in examples),
    ]


def damaged(text: str, others: list[str], chance: random.Random) -> str:
    """The text with one to four places cut, doubled, exchanged or overwritten."""
    for _ in range(chance.choice([1, 1, 1, 2, 4])):
        start = chance.randrange(len(text) + 1)
        end = min(len(text), start + chance.choice([0, 0, 1, 2, 8, 40]))
        match chance.randrange(4):
            case 0:
                part = chance.choice(WORDS) * chance.choice([1, 1, 2, 30])
            case 1:
                part = text[start:end] * 2
            case 2:
                other = chance.choice(others)
                begin = chance.randrange(len(other))
                part = other[begin : begin + chance.choice([4, 20, 120])]
            case _:
                lines = text.splitlines() or [""]
                part = "\n" + chance.choice(lines) + "\n"
        text = text[:start] + part + text[end:]
    return text


def specs(seed: int) -> Iterator[str]:
    """Endlessly many, the same for the same seed."""
    chance, texts = random.Random(seed), sources()
    awkward = list(AWKWARD.values())
    while True:
        if chance.randrange(200) == 0:
            yield chance.choice(awkward)(chance.choice([300, 20_000]))
        else:
            yield damaged(chance.choice(texts), texts, chance)


def fault(text: str, folder: Path) -> str | None:
    """What is wrong with the answer to a spec; None if nothing is."""
    path = folder / "fuzz.yaml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    began = time.process_time()
    try:
        lesson, plan = open_planned(path, False)
        describe(plan, lesson.timeline)
        json.loads("".join(timeline_json_parts(lesson.timeline)))
        lesson.segments()
    except BarcrossError as error:
        first = str(error).splitlines()[0]
        if not re.match(rf"{re.escape(str(path))}:\d+:\d+: ", first):
            return f"no place: {first}"
    except Exception as error:  # whatever it is, it is what is looked for
        return f"traceback: {error!r}"
    seconds = time.process_time() - began
    return f"{seconds:.1f} s" if seconds > SECONDS else None


def main() -> None:
    """Run for so many minutes, tell what is found, and end with how many were tried."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=1)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    until = time.monotonic() + 60 * wanted.minutes
    tried, found = 0, 0
    with tempfile.TemporaryDirectory() as folder:
        for text in specs(wanted.seed):
            if time.monotonic() > until:
                break
            tried += 1
            if wrong := fault(text, Path(folder)):
                found += 1
                print(f"{wrong}\n{text[:2_000]!r}", file=sys.stderr)
    print(f"{tried:,} specs, {found:,} faults")


if __name__ == "__main__":
    main()
