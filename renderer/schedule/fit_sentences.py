"""What `fit` says: its question, its answer, and the words beside its sum, plain text from the section's stretches."""

from collections.abc import Sequence
from fractions import Fraction

from renderer.core.names import listed
from renderer.schedule.fit_sum import FitSum, FitTerm, Part, first_closing
from renderer.schedule.phrases import Phrase, Phrases, sentence
from renderer.schedule.wording import count_of, is_half, mixed, number_word, ordinal, ordinal_word
from renderer.timeline.model import Landing, Repetition, Section, Timeline


def figure_names(parts: Sequence[Part]) -> list[str]:
    """The figures that begin in the section, in order."""
    names = (part.repetition.statement.figure for part in parts if part.repetition and part.kind != "carried")
    return list(dict.fromkeys(name for name in names if name))


def fit_question(section: Section, parts: Sequence[Part]) -> Phrases:
    """What is asked before the sum is there."""
    names, place = figure_names(parts), Phrase(section.name, "meter")
    if len(names) == 1:
        return sentence("How often does ", Phrase(names[0], "figure"), " fit into ", place, "?")
    return sentence("What fills ", place, "?")


def fit_answer(parts: Sequence[Part], added: FitSum, pulse: int) -> Phrases:
    """How often the figure fits, and what the end of the section does.

    `pulse`: ticks to the pulse that is counted in.
    """
    wholes = [term for term in added.terms if term.kind == "whole"]
    one = wholes[0] if len(wholes) == 1 and len(figure_names(parts)) == 1 else None
    if added.over:
        return _too_long(parts[-1], added, one, pulse)
    closing = parts[first_closing(parts) :]
    if not any(part.repetition for part in parts):
        return sentence("Nothing is played here.")
    fit = _beside(added, _so_many(one, pulse), pulse) if one else ""
    if not closing:
        return sentence(f"{fit}, and nothing is left." if one else "Nothing is left over.")
    return sentence(*([f"{fit}. "] if one else []), *_filling(closing, pulse))


def _so_many(term: FitTerm | None, pulse: int) -> str:
    """`Eleven elevens fit`."""
    if term is None:
        return ""
    length, verb = Fraction(term.ticks, pulse), "fits" if term.times == 1 else "fit"
    return f"{number_word(term.times, capital=True)} {_plural(length, term.times)} {verb}"


def _beside(added: FitSum, said: str, pulse: int) -> str:
    """What is said of the repetitions, with what else is in their section: `With 4 carried in, eleven elevens fit`."""
    words = {"carried": "carried in", "rest": "silent"}
    beside = [f"{mixed(Fraction(t.ticks, pulse))} {words[t.kind]}" for t in added.terms if t.kind in words]
    return f"With {listed(beside, 'and')}, {said[0].lower()}{said[1:]}" if beside else said


def _plural(length: Fraction, times: int) -> str:
    word = number_word(length)
    return word if times == 1 else word + ("es" if word.endswith("x") else "s")


def _too_long(last: Part, added: FitSum, one: FitTerm | None, pulse: int) -> Phrases:
    """The last repetition is longer than its room: it runs on, or is cut off."""
    over = Fraction(added.over, pulse)
    total = mixed(Fraction(sum(term.times * term.ticks for term in added.terms), pulse))
    alone = one is not None and len(added.terms) == 1
    if alone and one is not None:
        verb = "is" if one.times == 1 else "are"
        many = f"{number_word(one.times, capital=True)} {_plural(Fraction(one.ticks, pulse), one.times)} {verb} {total}"
    else:
        many = _beside(added, f"All that is begun comes to {total}", pulse)
    if last.kind == "over":
        verb = "runs" if over == 1 else "run"
        return sentence(f"{many}: ", Phrase(f"{mixed(over)} {verb} over the line.", "figure"))
    off = (
        "one too many, and the line cuts it off."
        if over == 1
        else f"{mixed(over)} too many, cut off by the line."
    )
    return sentence(f"{many}: ", Phrase(off, "figure"))


def _filling(closing: Sequence[Part], pulse: int) -> Phrases:
    """What stands in what the whole repetitions leave over."""
    last, silent = closing[-1], closing[-1].kind == "left"
    played = [part for part in closing if part.repetition]
    if not played:
        return sentence(*_silence(last, pulse))
    if len(closing) > 1:
        sizes = " + ".join(mixed(Fraction(part.end - part.at, pulse)) for part in played)
        verb = "fills" if len(played) == 1 else "fill"
        if not silent:
            return sentence(Phrase(sizes, "figure"), f" {verb} what is left.")
        count = Fraction(last.end - last.at, pulse)
        still = f"{mixed(count)} {'stays' if count == 1 else 'stay'} silent."
        return sentence(
            Phrase(sizes, "figure"), f" more {'is' if sizes == '1' else 'are'} played, and {still}"
        )
    repetition = played[0].repetition
    if repetition is None or repetition.statement.kind == "tail":
        groups = groups_text(repetition) if repetition else ""
        verb = "fill" if "+" in groups else "fills"
        return sentence(Phrase(groups, "figure"), f" {verb} what is left.")
    sounding = _own_pulses(repetition, repetition.statement.sounding_length)
    if repetition.statement.kind == "first":
        figure = repetition.statement.figure
        if sounding == "1":
            return sentence("The first pulse of ", Phrase(f"{figure}", "figure"), " fills what is left.")
        return sentence("The first ", Phrase(sounding, "figure"), f" of {figure} fill what is left.")
    which = ordinal_word(repetition.counted or 1)
    return sentence(f"The {which} is cut after ", Phrase(sounding, "figure"), ".")


def _silence(part: Part, pulse: int) -> Phrases:
    count = Fraction(part.end - part.at, pulse)
    verb = "is" if count == 1 else "are"
    return sentence(Phrase(mixed(count), "figure"), f" {verb} left, and nothing sounds there.")


def which_text(repetition: Repetition) -> str:
    """Which one a repetition is in its row, as all pictures count it: `24th`, `half`; nothing for a tail."""
    if is_half(repetition):
        return "half"
    return "" if repetition.counted is None else ordinal(repetition.counted)


def groups_text(repetition: Repetition) -> str:
    """A repetition's groups added up, `4 + 3`; its length where they are many."""
    groups = repetition.statement.groups
    if len(groups) > 6:
        return _own_pulses(repetition, repetition.statement.sounding_length)
    return " + ".join(_own_pulses(repetition, group.length) for group in groups)


def _own_pulses(repetition: Repetition, ticks: int) -> str:
    return mixed(Fraction(ticks, repetition.statement.pulse))


def sum_words(timeline: Timeline, section: Section, added: FitSum, pulse: int) -> Phrases:
    """The sum in words: `8 bars of 16 hold 11 repetitions of 11, and 7 are left`."""
    bars = Phrase(bars_text(timeline, section, pulse), "meter")
    wholes = [term for term in added.terms if term.kind == "whole"]
    if len(wholes) != 1 or any(term.kind in ("carried", "rest") for term in added.terms):
        return sentence(bars, " hold ", ", ".join(_term_text(term, pulse) for term in added.terms))
    term = wholes[0]
    length = mixed(Fraction(term.ticks, pulse))
    many = Phrase(f"{count_of(term.times, 'repetition')} of {length}", "figure")
    whole = term.times * term.ticks
    if added.over:
        verb = "make" if term.times > 1 else "makes"
        total, room = (mixed(Fraction(ticks, pulse)) for ticks in (whole, whole - added.over))
        return sentence(many, f" {verb} {total}, ", bars, f" have {room}")
    left = sum(other.times * other.ticks for other in added.terms) - whole
    holds = "holds" if section.bar_count == 1 else "hold"
    if not left:
        return sentence(bars, f" {holds} ", many)
    count = Fraction(left, pulse)
    return sentence(bars, f" {holds} ", many, f", and {mixed(count)} {'is' if count == 1 else 'are'} left")


def bars_text(timeline: Timeline, section: Section, pulse: int) -> str:
    """`8 bars of 16`, in pulses; without their length where they differ."""
    bars = [bar for bar in timeline.bars if section.at <= bar.at < section.end]
    lengths = {bar.end - bar.at for bar in bars}
    of = f" of {mixed(Fraction(lengths.pop(), pulse))}" if len(lengths) == 1 else ""
    return count_of(len(bars), "bar") + of


def _term_text(term: FitTerm, pulse: int) -> str:
    length = mixed(Fraction(term.ticks, pulse))
    if term.kind == "carried":
        return f"{length} carried in"
    if term.kind in ("rest", "left"):
        return f"{length} of silence"
    many = f"{term.times} times " if term.times > 1 else ""
    name = "tail" if term.kind == "tail" else term.figure or ""
    return f"{many}{name}" if term.kind in ("whole", "tail") else f"{length} of {name}"


def landing_note(timeline: Timeline, landing: Landing | None, following: Repetition | None, line: int) -> str:
    """Whose accent falls on the downbeat after the section, or what begins there; nothing where that is silent."""
    if landing is None:
        return f"{_name(following)} starts here" if following and following.at == line else ""
    owner = next(
        r for r in timeline.repetitions if r.voice == landing.voice and r.number == landing.repetition_number
    )
    which = f"{ordinal_word(landing.accent_number)} accent of {_name(owner)}"
    if not landing.sounds:
        return f"{which}: not played"
    return which if owner.at == line else f"{which}, running on"


def _name(repetition: Repetition) -> str:
    return repetition.statement.figure or "the tail"
