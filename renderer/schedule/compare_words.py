"""What `compare` says: what is asked, what the variant gives up or gains, and the sum; stretches of text with what is
meant marked."""

from collections.abc import Sequence

from renderer.core.note_values import pulse_word
from renderer.schedule.wording import ORDINALS, count_of, ordinal, sum_text
from renderer.timeline.model import Figure
from renderer.timeline.variant import Comparison, VariantPiece

Text = tuple[tuple[str, bool], ...]
"""Stretches of a sentence, and whether each is what it is about."""
MOST_TERMS = 4
MINUS = "−"


def plain(text: Text) -> str:
    """A sentence without its marks."""
    return "".join(stretch for stretch, _ in text)


def step_text(step: str, figure: Figure, variant: Figure, comparison: Comparison) -> Text:
    """What one step says; with the difference and the total the whole of it."""
    if step in ("difference", "total"):
        return _answer(figure, variant, comparison)
    taken = sum(piece.length for piece in comparison.taken)
    added = sum(piece.length for piece in comparison.added)
    if step == "figure":
        return ((f"{figure.name}: {sum_text(figure)}. ", False), (f"What does {variant.name} change?", True))
    if step == "copy":
        return ((variant.name, True), (" begins as its copy.", False))
    if step == "taken out":
        return ((f"{count_of(taken, 'pulse')} {'is' if taken == 1 else 'are'} taken out.", False),)
    if step == "added":
        return ((f"{count_of(added, 'pulse')} {'is' if added == 1 else 'are'} added.", False),)
    if comparison.stretched:
        return ((f"It is counted in {pulse_word(variant.pulse)}.", False),)
    if added and not taken:
        return (("What follows makes room.", False),)
    return (("What follows closes up." if taken else "Its groups are parted anew.", False),)


def _answer(figure: Figure, variant: Figure, comparison: Comparison) -> Text:
    """`The first group gives up its last 2 pulses: 11 − 2 = 9.`"""
    changes = comparison.changes
    if figure.pulse != variant.pulse:
        return _other_pulse(figure, variant)
    if not changes:
        return _same_length(figure, variant)
    one = len(comparison.taken) + len(comparison.added) == 1
    text = _one_change(changes[0], comparison) if one else _net(figure, variant)
    return ((f"{text}: ", False), (f"{_sum_of(figure, variant, changes)}.", True))


def _sum_of(figure: Figure, variant: Figure, changes: Sequence[VariantPiece]) -> str:
    """`11 − 2 = 9`; only the net change where there are many."""
    terms = [(1 if piece.kind == "added" else -1) * piece.length for piece in changes]
    if len(terms) > MOST_TERMS:
        terms = [variant.pulses - figure.pulses]
    signed = "".join(f" {'+' if term > 0 else MINUS} {abs(term)}" for term in terms if term)
    return f"{figure.pulses}{signed} = {variant.pulses}"


def difference_text(piece: VariantPiece) -> str:
    """`− 2` or `+ 2`."""
    return f"{'+' if piece.kind == 'added' else MINUS} {piece.length}"


def _one_change(piece: VariantPiece, comparison: Comparison) -> str:
    pulses = "pulse" if piece.length == 1 else "pulses"
    if piece.kind == "out" and piece.figure_group is not None:
        which = _which(piece.figure_group, len(comparison.figure))
        if comparison.figure[piece.figure_group] == piece.length:
            return f"The {which} group is taken out"
        last = f"last {piece.length} {pulses}" if piece.length > 1 else "last pulse"
        return f"The {which} group gives up its {last}"
    group = piece.variant_group or 0
    which = _which(group, len(comparison.variant))
    if comparison.variant[group] == piece.length:
        place = {0: "at the start", len(comparison.variant) - 1: "at the end"}.get(group, f"as the {which}")
        return f"A group of {piece.length} is added {place}"
    return f"The {which} group grows by {piece.length} {pulses}"


def _which(index: int, count: int) -> str:
    if count == 1:
        return "only"
    if index == count - 1:
        return "last"
    return ORDINALS[index] if index < len(ORDINALS) else ordinal(index + 1)


def _net(figure: Figure, variant: Figure) -> str:
    net = variant.pulses - figure.pulses
    if not net:
        return "Pulses move from group to group, the length stays"
    return f"{abs(net)} {'pulse' if abs(net) == 1 else 'pulses'} {'fewer' if net < 0 else 'more'}"


def _same_length(figure: Figure, variant: Figure) -> Text:
    if figure.groups != variant.groups:
        text = "The same length, in other groups: "
    elif figure.accents != variant.accents:
        text = "The same groups with other accents: "
    elif figure.hits != variant.hits:
        text = "The same groups with other hits: "
    else:
        text = "The same groups: "
    return ((text, False), (f"{figure.pulses} {pulse_word(figure.pulse, figure.pulses)}.", True))


def _other_pulse(figure: Figure, variant: Figure) -> Text:
    one, other = (f"{each.pulses} {pulse_word(each.pulse, each.pulses)}" for each in (figure, variant))
    return ((one, True), (" become ", False), (f"{other}.", True))
