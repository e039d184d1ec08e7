"""Texts that a reader may choke on: each a function of about how many characters it is to have."""

from collections.abc import Callable

TOP = "tempo: 120\nmeter: 4/4\npulse: 1/16\nfigures: {kiln: [5, 3, 3]}\n"
FORM = "form:\n  - {section: A, bars: 4, plays: kiln}\n"
PLAIN = TOP + FORM


def rows(text: str, size: int, start: int = 0) -> str:
    """Lines of `text` with a number in place of each `{}`, about `size` characters of them."""
    length = len(text.replace("{}", "00000")) + 1
    return "".join(text.replace("{}", f"{start + number:05}") + "\n" for number in range(size // length))


def filled(before: str, text: str, behind: str = "\n") -> Callable[[int], str]:
    """`text` again and again between two others."""
    return lambda size: before + text * ((size - len(before) - len(behind)) // len(text)) + behind


def keys_twice(size: int) -> str:
    """Every key of a map given twice."""
    return PLAIN + "harmony:\n" + rows("  a{}: x", size // 2) * 2


def wrong_again(size: int) -> str:
    """Sections with names that are much alike, each of them misspelt."""
    pair = "  - {section: S{} of the piece by the river, bars: 1}\n  - {again: S{} of the peice by the river}"
    return TOP + "form:\n" + rows(pair, min(size, 200_000))


def wrong_figures(size: int) -> str:
    """Figures with names that are much alike, and misspelt ones played."""
    figures = ", ".join(f"kiln by the old river {number:03}: [5]" for number in range(100))
    top = TOP.replace("kiln: [5, 3, 3]", figures)
    items = ", ".join(["kilm by the old rivre"] * 1500)
    return (
        top
        + "form:\n"
        + "".join(
            f"  - {{section: S{number}, bars: 1, plays: [{items}]}}\n" for number in range(1 + size // 35_000)
        )
    )


def wrong_sections(size: int) -> str:
    """Many sections, and segments that name them wrongly."""
    form = rows("  - {section: S{} of the piece by the river, bars: 1}", min(size // 4, 100_000))
    names = ", ".join(f"S{number} of the peice by the river" for number in range(300))
    segments = f"  - {{show: spread, sections: [{names}]}}\n"
    return TOP + "form:\n" + form + "segments:\n" + segments * min(99, size // len(segments))


def alias_bomb(size: int) -> str:
    """Lists of the list before, ten times each."""
    levels = [f"l{n}: &l{n} [{', '.join([f'*l{n - 1}'] * 10)}]" for n in range(1, max(5, size // 60))]
    return "l0: &l0 [x]\n" + "\n".join(levels)


def long_alias(size: int) -> str:
    """A long text that is repeated as often as there is room for."""
    half = size // 2
    return f"{PLAIN}x: &a '{'1' * half}'\nharmony: [{'*a, ' * (half // 4)}]\n"


def distinct_meters(size: int) -> str:
    """A meter a bar, each in many beats of its own."""
    meters = (f"64/4 in {'+'.join(['1'] * (62 - 2 * n % 60) + ['2'] * (1 + n % 30))}" for n in range(size))
    text, length = [], 0
    for meter in meters:
        length += len(meter) + 2
        if length > size - 200:
            break
        text.append(meter)
    return TOP.replace("meter: 4/4", f"meter: [{', '.join(text)}]") + FORM


AWKWARD: dict[str, Callable[[int], str]] = {
    "keys given twice": keys_twice,
    "one key given again and again": filled(PLAIN + "harmony:\n", "  a: x\n"),
    "blanks after a key run into its value": lambda size: f"abc:x{' ' * size}y\nb: c\n",
    "blanks before a key": lambda size: f"- a\n{' ' * size}b: c\n",
    "colons in one line": filled("a: ", "b: "),
    "misspelt again": wrong_again,
    "misspelt figures": wrong_figures,
    "misspelt sections": wrong_sections,
    "unknown keys": lambda size: PLAIN + rows("harmon{}: x", size),
    "positions that are none": lambda size: PLAIN + "harmony:\n" + rows("  x{}: x", size),
    "positions": lambda size: PLAIN + "harmony:\n" + rows("  {}: Em", size, 10_000),
    "fermatas": lambda size: PLAIN + "fermata:\n" + rows("  {}: 0:01.25", size, 10_000),
    "harmonies": filled(PLAIN + "harmony: [", "Em, ", "G]\n"),
    "harmonies in quotes": lambda size: PLAIN + "harmony:\n" + rows("  {}: 'E #m'", size, 10_000),
    "tempi": lambda size: TOP.replace("120", f"[{'3/8 = 76, ' * (size // 10)}]") + FORM,
    "meters": distinct_meters,
    "a list in a figure": lambda size: TOP.replace("5, 3, 3", "5, " * (size // 3)) + FORM,
    "signs in a figure": lambda size: TOP.replace("5, 3, 3", "!5 , " * (size // 5)) + FORM,
    "an exclamation mark": filled("", "!"),
    "a star": filled("title: *", "a"),
    "an anchor": filled("title: &", "a"),
    "brackets": filled("", "["),
    "braces": filled("", "{a: "),
    "dashes": filled("", "- "),
    "dashes a line each": filled("", "-\n"),
    "empty lists": filled("x: [", "[],", "]"),
    "empty values": lambda size: "{" + rows("a{},", size) + "}",
    "deep lists": filled("x: [", "[" * 25 + "y" + "]" * 25 + ", ", "]"),
    "line breaks": filled("", "\n"),
    "carriage returns": filled(PLAIN.replace("\n", "\r"), "\r"),
    "comments": filled(PLAIN, "# a\n"),
    "texts cut off": filled("", "a #b\n"),
    "a text cut off again and again": filled("a: b ", " #c"),
    "number signs in quotes": filled("a: [", "' #a ',", "]"),
    "a long key": filled("? ", "a", "\n: b\n"),
    "a long text": filled("title: ", "a"),
    "a text of many lines": filled("title: ", "a\n  "),
    "an open quote": filled("title: '", "a"),
    "escapes": filled('title: "', "\\x41", '\\q"\n'),
    "directives": lambda size: rows("%TAG !a{}! b", size) + PLAIN,
    "an error at the end": lambda size: PLAIN + "harmony:\n" + rows("  {}: Em", size) + " x: ]\n",
    "an alias bomb": alias_bomb,
    "unknown aliases": filled("x: [", "*a, ", "]"),
    "a long text repeated": long_alias,
    "letters beyond the plane": filled("title: ", "\U0001f941"),
    "accents upon accents": filled("title: a", "\u0301"),
}
