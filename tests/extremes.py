"""Specs at the edges of what the format takes: one bar and 300, names of one letter and forty, 200 pulses."""

from textwrap import dedent

LONG = "Abendrotglockenwiderhall in ganz Emberfd"
"""Forty characters."""


def _piece(head: str, form: str, title: str = "T") -> str:
    return f"title: {title}\ntempo: 120\nmeter: 4/4\npulse: 1/16\n" + dedent(head) + "form:\n" + dedent(form)


def _changing_part(number: int) -> str:
    """A part that changes sides in bar 3, with every other one."""
    sides = (f"v{number}", "meter") if number % 2 else ("meter", f"v{number}")
    return f"{LONG[: number + 12]}: {{1: {sides[0]}, 3: {sides[1]}}}"


MANY_GROUPS = ", ".join(["5"] * 40)

EXTREMES: dict[str, str] = {
    "one bar": _piece("figures: {f: [2]}\n", "  - {section: A, bars: 1, plays: f}\n"),
    "nothing at all": _piece("", "  - {section: A, bars: 2}\n"),
    "no harmony": _piece("figures: {f: [5, 3, 3]}\n", "  - {section: A, bars: 7, plays: f}\n"),
    "300 bars": _piece(
        "figures: {f: [5, 3, 3]}\n",
        "  - {section: A, bars: 300, harmony: {1: [Em, G, Am]}, plays: f}\n",
    ),
    "long names": _piece(
        f"figures: {{{LONG}: [5, 3, 3], x: [7]}}\n",
        f"""\
          - {{section: {LONG}, bars: 5, harmony: {{1: {LONG}, 2.3: {LONG[::-1]}, 3: x}}, plays: {LONG}}}
          - {{section: B, bars: 3, harmony: {{1: Em, 1.3: {LONG}, 1.4: G}}, plays: x}}
        """,
        title="W" * 80,
    ),
    "200 pulses": _piece(
        f"figures: {{f: [{MANY_GROUPS}]}}\n",
        "  - {section: A, bars: 40, harmony: {1: Em, 9: G, 21.3: Am}, plays: f}\n",
    ),
    "one long group": _piece(
        "figures: {f: [200]}\n", "  - {section: A, bars: 30, harmony: {1: Em, 9: G}, plays: f}\n"
    ),
    "199 against 16": _piece(
        f"figures: {{f: [{', '.join(['5'] * 39)}, 4]}}\n",
        "  - {section: A, bars: 210, harmony: {1: Em}, plays: f}\n",
    ),
    "fine pulses": _piece(
        "figures: {f: {groups: [2, 1], pulse: 1/512}}\n",
        "  - {section: A, bars: 4, harmony: {1: Em, 2.2: G}, plays: f}\n",
    ),
    "many figures": _piece(
        "figures: {" + ", ".join(f"figure-number-{n}: [{n}, {n + 1}]" for n in range(2, 16)) + "}\n",
        "  - {section: A, bars: 20, harmony: {1: Em, 9.3: G}, plays: ["
        + ", ".join(f"figure-number-{n}" for n in range(2, 16))
        + ", {tail: [2, 3]}]}\n",
    ),
    "changing meters": _piece(
        "pickup: 1/4\nfigures: {f: [5, 3, 3], g: {groups: [2, 3], pulse: 1/12}}\n",
        """\
          - section: A
            bars: 6
            meter: {1: 4/4, 3: 7/8 in 2+2+3, 5: 5/16}
            harmony: {0.4: Em, 2.2: G, 4.2: Dm}
            plays: [f, {tail: [4, 3]}, {rest: 3}, {first: 5, of: f}, f]
          - {section: B, bars: 4, harmony: {1: Em, 1.2: G, 2.2: C}, plays: g}
        """,
    ),
    "harmony on every beat": _piece(
        "figures: {f: [5, 3, 3]}\n",
        "  - {section: A, bars: 4, plays: f, "
        "harmony: {1: Em, 1.2: F#m7b5, 1.3: Gmaj9#11, 1.4: Bb, 2: Em, 2.2: C, 2.3: D7sus4, 2.4: A}}\n",
    ),
    "several voices": _piece(
        "figures: {f: [5, 3, 3], g: [4, 3]}\nparts: {a: low, b: high, c: meter}\n",
        """\
          - {section: A, bars: 8, harmony: {1: Em, 4.3: G}, voices: {low: f, high: [g, {tail: [2, 2]}, g]}}
          - {section: B, bars: 4, harmony: {1: C}, voices: {low: on, high: {rest: 20}}}
        """,
    ),
    "tails and cuts": _piece(
        "figures: {f: [5, 3, 3], g: [3, 3, 2]}\n",
        """\
          - {section: A, bars: 8, harmony: {1: Em, 8.4: G}, plays: [{figure: f, times: 11}, {tail: [4, 3]}]}
          - section: B
            bars: 8
            harmony: {1: Em}
            plays: [{figure: g, times: 3.5}, {tail: [4, 4]}, f, {first: 5, of: f}, {rest: 4}, g]
          - {section: C, bars: 3, harmony: {1: G}, plays: on}
        """,
    ),
    "very fast": _piece(
        "figures: {f: [5, 3, 3]}\n", "  - {section: A, bars: 9, harmony: {1: [E, A]}, plays: f}\n"
    ).replace("tempo: 120", "tempo: 600"),
    "very slow": _piece(
        "figures: {f: [5, 3, 3]}\n", "  - {section: A, bars: 3, harmony: {1: [E, A]}, plays: f}\n"
    ).replace("tempo: 120", "tempo: 20"),
    "twelve voices and parts": _piece(
        f"figures: {{{', '.join(f'f{n}: [{n % 5 + 2}, 3, {n % 3 + 1}]' for n in range(12))}}}\n"
        f"parts: {{{', '.join(_changing_part(n) for n in range(12))}}}\n",
        "  - {section: A, bars: 8, harmony: {1: Em, 3.3: G}, "
        f"voices: {{{', '.join(f'v{n}: f{n}' for n in range(12))}}}}}\n",
    ),
    "33 sections": _piece(
        "figures: {f: [5, 3, 3]}\n",
        "".join(f"  - {{section: Part {n}, bars: 9, harmony: [Em, G], plays: f}}\n" for n in range(33)),
    ),
    "short sections": _piece(
        "figures: {f: [5, 3, 3], g: [4, 3]}\n",
        "".join(
            f"  - {{section: {name}, bars: {bars}, harmony: {{1: Em, 1.3: G}}, plays: {plays}}}\n"
            for name, bars, plays in (
                (LONG, 16, "f"),
                ("Bridge", 1, "on"),
                ("Break", 1, "g"),
                (LONG[::-1], 2, "on"),
                ("x", 40, "f"),
            )
        ),
    ),
}
