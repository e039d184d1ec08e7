"""Strange specs by the thousand: `python -m tests.fuzz --minutes N` looks for what `check` does not stand.

They come from four places: the examples, the reference's and the tests' own specs with some of it cut, doubled,
exchanged or overwritten; the bytes of these, flipped, cut or in another coding; the grammar, which is the schema that
`barcross schema` prints, followed at random; and the awkward texts. Each is read and, if it is a spec, planned,
described, written as JSON and its segments scheduled. Found is: anything but an answer, a mistake without its place,
more than a second, more than 300 MB.
"""

import argparse
import json
import random
import re
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import yaml

from renderer.core.errors import BarcrossError
from renderer.lesson.lesson import open_planned
from renderer.reading.schema.document import spec_schema
from renderer.report.section_advice import describe
from renderer.report.timeline_json import timeline_json_parts
from tests.awkward_texts import AWKWARD, PLAIN
from tests.spec_texts import EVERYTHING

SPECS = Path(__file__).parent.parent / "specs"
SECONDS = 1.0
MEGABYTES = 300
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
CODINGS = ("utf-8-sig", "utf-16", "utf-16-le", "utf-32", "latin-1", "cp437")
FITTING = [
    *("1", "2", "3", "4", "5", "8", "11", "1/16", "1/8", "1/12", "3/4", "4/4", "7/8 in 2+2+3", "6/8 in 2"),
    *(
        "112",
        "3/8 = 76",
        "kiln",
        "brief",
        "kit",
        "main",
        "figure",
        "meter",
        "tacet",
        "Opening",
        "Theme",
        "on",
    ),
    *("after", "downbeat", "Em", "G", "N.C.", "X..x. xx.", "9.3", "-1", "0.4", "1:30", "2.5", "50 %", "9-12"),
    *("play", "spread", "form", "fit", "wheel", "parts", "beat", "bar", "end", "true", "false", "-12 dB"),
]
"""Values of which each fits somewhere."""
STANDS = """
tempo: '112'
meter: 4/4
pulse: 1/16
figures: {kiln: [5, 3, 3], brief: [3, 3, 2]}
parts: {kit: figure}
form:
- {section: Opening, bars: 12, plays: kiln}
- {section: Theme, bars: 12, plays: 'on'}
"""


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


def damaged_bytes(content: bytes, chance: random.Random) -> bytes:
    """The file with some bytes flipped, cut, put in or doubled."""
    data = bytearray(content)
    for _ in range(chance.choice([1, 1, 2, 4])):
        at, size = chance.randrange(len(data) + 1), chance.choice([1, 1, 2, 4, 40])
        match chance.randrange(5):
            case 0:
                del data[at:]
            case 1:
                del data[at : at + size]
            case 2:
                data[at:at] = chance.randbytes(size)
            case 3:
                data[at : at + size] = chance.choice([b"\0", b"\xff", b"\xc3", b"\xed\xa0\x80"]) * size
            case _:
                for place in range(at, min(len(data), at + size)):
                    data[place] ^= 1 << chance.randrange(8)
    return bytes(data)


def from_schema(schema: dict[str, Any], chance: random.Random, depth: int = 0) -> object:
    """A value such as the schema allows, or nearly: texts are taken from those that fit somewhere."""
    if "anyOf" in schema:
        return from_schema(chance.choice(schema["anyOf"]), chance, depth)
    if "enum" in schema or "const" in schema:
        return chance.choice(schema.get("enum", [schema.get("const")]))
    kinds = schema.get("type", "string")
    if kinds == "array":
        row = [
            from_schema(schema.get("items", {}), chance, depth + 1)
            for _ in range(chance.choice([1, 1, 2, 3, 5]))
        ]
        return row[: 1 if depth > 6 else None]
    if kinds != "object":
        pattern = schema.get("pattern", "") if chance.randrange(20) else ""
        fitting = [text for text in FITTING if re.search(pattern, text)]
        if "number" in kinds or "integer" in kinds:
            fitting = [text for text in fitting if text[0].isdigit()] or fitting
        return chance.choice(fitting or FITTING)
    known = schema.get("properties", {})
    required = schema.get("required", [])
    keys = [key for key in known if key in required or chance.randrange(5) == 0]
    value = {key: from_schema(known[key], chance, depth + 1) for key in keys}
    named = [*schema.get("patternProperties", {}).items(), ("", schema.get("additionalProperties"))]
    for pattern, inner in named:
        names = [text for text in FITTING if re.search(pattern, text)]
        if isinstance(inner, dict) and names:
            for _ in range(chance.choice([1, 1, 2, 4])):
                value[chance.choice(names)] = from_schema(inner, chance, depth + 1)
    return value


def grown(schema: dict[str, Any], chance: random.Random) -> str:
    """A spec from the schema; most of them are one that stands, with one to three of its keys from there."""
    value = from_schema(schema, chance)
    if isinstance(value, dict) and value and chance.randrange(5):
        keys = chance.sample(list(value), min(len(value), chance.choice([1, 1, 2, 3])))
        value = yaml.safe_load(STANDS) | {key: value[key] for key in keys}
    return yaml.safe_dump(value, sort_keys=False, default_flow_style=chance.choice([None, False, True]))


def specs(seed: int) -> Iterator[bytes]:
    """Endlessly many files, the same for the same seed."""
    chance, texts, schema = random.Random(seed), sources(), spec_schema()
    awkward = list(AWKWARD.values())
    while True:
        match chance.randrange(200):
            case 0:
                text = chance.choice(awkward)(chance.choice([300, 20_000]))
            case number if number < 40:
                text = grown(schema, chance)
            case number if number < 80:
                yield damaged_bytes(chance.choice(texts).encode(), chance)
                continue
            case number if number < 90:
                yield chance.choice(texts).encode(chance.choice(CODINGS), "replace")
                continue
            case _:
                text = damaged(chance.choice(texts), texts, chance)
        yield text.encode("utf-8", "surrogatepass")


def fault(content: bytes, folder: Path) -> str | None:
    """What is wrong with the answer to a spec; None if nothing is."""
    path = folder / "fuzz.yaml"
    path.write_bytes(content)
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
        for content in specs(wanted.seed):
            if time.monotonic() > until:
                break
            tried += 1
            if wrong := fault(content, Path(folder)):
                found += 1
                print(f"{wrong}\n{content[:2_000]!r}", file=sys.stderr)
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{tried:,} specs, {found:,} faults, {megabytes:.0f} MB at most")
    sys.exit(bool(found) or megabytes > MEGABYTES)


if __name__ == "__main__":
    main()
