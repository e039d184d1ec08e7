"""What `compare` says: what the variant gives up or gains, and the sum."""

from collections.abc import Sequence

from renderer.timeline.model import Figure
from renderer.timeline.variant import Comparison, VariantPiece
from scenes.draw.look import BOLD, SEMIBOLD, Look
from scenes.draw.shapes import Words
from scenes.draw.wording import count_of, pulse_word, sum_text

ORDINALS = ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"]
MOST_TERMS = 4
MINUS = "−"


def step_sentence(
    look: Look, step: str, figure: Figure, variant: Figure, comparison: Comparison
) -> list[Words]:
    """What one step shows; with the total the whole of it."""
    if step in ("difference", "total"):
        return compare_sentence(look, figure, variant, comparison)
    taken = sum(piece.length for piece in comparison.taken)
    added = sum(piece.length for piece in comparison.added)
    name = Words(variant.name, look.sail_one, SEMIBOLD)
    if step == "figure":
        return [Words(figure.name, look.sail_one, SEMIBOLD), Words(f": {sum_text(figure)}.", look.ink)]
    if step == "copy":
        return [name, Words(" begins as its copy.", look.ink)]
    if step == "taken out":
        return [Words(f"{count_of(taken, 'pulse')} {'is' if taken == 1 else 'are'} taken out.", look.ink)]
    if step == "added":
        return [Words(f"{count_of(added, 'pulse')} {'is' if added == 1 else 'are'} added.", look.ink)]
    if comparison.stretched:
        return [Words(f"It is counted in {pulse_word(variant.pulse)}.", look.ink)]
    if added and not taken:
        return [Words("What follows makes room.", look.ink)]
    return [Words("What follows closes up." if taken else "Its groups are parted anew.", look.ink)]


def compare_sentence(look: Look, figure: Figure, variant: Figure, comparison: Comparison) -> list[Words]:
    """`The first group gives up its last 2 pulses: 11 − 2 = 9.`"""
    changes = comparison.changes
    if figure.pulse != variant.pulse:
        return _other_pulse(look, figure, variant)
    if not changes:
        return _same_length(look, figure, variant)
    text = (
        _one_change(changes[0], comparison)
        if len(changes) == 1 and _is_one_group(comparison)
        else _net(figure, variant)
    )
    return [
        Words(f"{text}: ", look.ink),
        Words(sum_of(figure, variant, changes), look.sail_one, BOLD),
        Words(".", look.ink),
    ]


def sum_of(figure: Figure, variant: Figure, changes: Sequence[VariantPiece]) -> str:
    """`11 − 2 = 9`; only the net change where there are many."""
    terms = [(1 if piece.kind == "added" else -1) * piece.length for piece in changes]
    if len(terms) > MOST_TERMS:
        terms = [variant.pulses - figure.pulses]
    signed = "".join(f" {'+' if term > 0 else MINUS} {abs(term)}" for term in terms if term)
    return f"{figure.pulses}{signed} = {variant.pulses}"


def difference_text(piece: VariantPiece) -> str:
    """`− 2` or `+ 2`."""
    return f"{'+' if piece.kind == 'added' else MINUS} {piece.length}"


def _is_one_group(comparison: Comparison) -> bool:
    return len(comparison.taken) + len(comparison.added) == 1


def _one_change(piece: VariantPiece, comparison: Comparison) -> str:
    pulses = "pulse" if piece.length == 1 else "pulses"
    if piece.kind == "out" and piece.figure_group is not None:
        which = _ordinal(piece.figure_group, len(comparison.figure))
        if comparison.figure[piece.figure_group] == piece.length:
            return f"The {which} group is taken out"
        last = f"last {piece.length} {pulses}" if piece.length > 1 else "last pulse"
        return f"The {which} group gives up its {last}"
    group = piece.variant_group or 0
    which = _ordinal(group, len(comparison.variant))
    if comparison.variant[group] == piece.length:
        place = {0: "at the start", len(comparison.variant) - 1: "at the end"}.get(group, f"as the {which}")
        return f"A group of {piece.length} is added {place}"
    return f"The {which} group grows by {piece.length} {pulses}"


def _ordinal(index: int, count: int) -> str:
    if count == 1:
        return "only"
    if index == count - 1:
        return "last"
    if index < len(ORDINALS):
        return ORDINALS[index]
    number = index + 1
    ending = "th" if number in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def _net(figure: Figure, variant: Figure) -> str:
    net = variant.pulses - figure.pulses
    if not net:
        return "Pulses move from group to group, the length stays"
    return f"{abs(net)} {'pulse' if abs(net) == 1 else 'pulses'} {'fewer' if net < 0 else 'more'}"


def _same_length(look: Look, figure: Figure, variant: Figure) -> list[Words]:
    if figure.groups != variant.groups:
        text = "The same length, in other groups: "
    elif figure.accents != variant.accents:
        text = "The same groups with other accents: "
    elif figure.hits != variant.hits:
        text = "The same groups with other hits: "
    else:
        text = "The same groups: "
    return [
        Words(text, look.ink),
        Words(f"{figure.pulses}", look.sail_one, BOLD),
        Words(f" {pulse_word(figure.pulse, figure.pulses)}.", look.ink),
    ]


def _other_pulse(look: Look, figure: Figure, variant: Figure) -> list[Words]:
    words = []
    for one, after in ((figure, " become "), (variant, ".")):
        text = f"{one.pulses} {pulse_word(one.pulse, one.pulses)}"
        words += [Words(text, look.sail_one, SEMIBOLD), Words(after, look.ink)]
    return words
