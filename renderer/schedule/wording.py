"""Words for numbers and lengths, as the pictures' sentences put them: plain text, without a look.

Schedules use them too, since a step stays as long as its sentence takes to read.
"""

from fractions import Fraction

from renderer.spec.model import Numbers
from renderer.timeline.model import Crossing, Figure, Repetition

COUNT_WORDS = [
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
]
TEENS = ["thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty"]
SPELLED = [*COUNT_WORDS, *TEENS]
ORDINALS = ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"]


SYLLABLES = {2: ("&",), 3: ("&", "a"), 4: ("e", "&", "a")}
"""What is counted between two beats, by how many pulses a beat has: `1 e & a`."""


def count_of(number: int, thing: str) -> str:
    """A number and what it counts.

    >>> count_of(1, "bar"), count_of(2, "bar")
    ('1 bar', '2 bars')
    """
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def mixed(number: Fraction) -> str:
    """A number of pulses, with its fraction beside it.

    >>> mixed(Fraction(7, 2)), mixed(Fraction(4))
    ('3 1/2', '4')
    """
    whole, rest = divmod(number, 1)
    return str(whole) if not rest else f"{whole} {rest}" if whole else str(rest)


def number_word(number: int | Fraction, capital: bool = False) -> str:
    """A number up to twenty spelled out, else its digits.

    >>> number_word(11), number_word(16, capital=True), number_word(21), number_word(Fraction(21, 2))
    ('eleven', 'Sixteen', '21', '10 1/2')
    """
    number = Fraction(number)
    if number.denominator > 1 or not 1 <= number <= len(SPELLED):
        return mixed(number)
    word = SPELLED[int(number) - 1]
    return word.capitalize() if capital else word


def ordinal(number: int) -> str:
    """Which one it is, in digits.

    >>> ordinal(1), ordinal(12), ordinal(23), ordinal(81)
    ('1st', '12th', '23rd', '81st')
    """
    ending = "th" if 10 <= number % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def ordinal_word(number: int) -> str:
    """Which one it is, spelled out up to the tenth.

    >>> ordinal_word(3), ordinal_word(21)
    ('third', '21st')
    """
    return ORDINALS[number - 1] if 1 <= number <= len(ORDINALS) else ordinal(number)


NO_CROSSING = "No harmony change falls inside a repetition."


def crossing_question(crossing: Crossing) -> tuple[str, str]:
    """What is asked of a crossing: the change of harmony, and what there is to hear in it."""
    return f"From {crossing.before} to {crossing.after}: ", "does the rhythm turn too?"


def crossing_answer(crossing: Crossing, repetition: Repetition) -> tuple[str, str]:
    """Where in the repetition the harmony turns, and what the rhythm does."""
    pulses = Fraction(crossing.into_group, repetition.statement.pulse)
    whole = count_of(int(pulses), "pulse") if pulses.denominator == 1 else f"{pulses} of a pulse"
    where = (
        f"in group {crossing.group_number}, after {whole}"
        if pulses
        else f"as group {crossing.group_number} begins"
    )
    return f"The chord turns {where}. ", "The rhythm runs on."


def number_text(repetition: Repetition, numbers: Numbers = "figure") -> str:
    """Which repetition it is, as pictures write it: counted as a teacher does, `1`, `2`, `3`, `½`, nothing for a tail;
    or its number in the piece."""
    if numbers == "piece":
        return str(repetition.number)
    if is_half(repetition):
        return "½"
    return "" if repetition.counted is None else str(repetition.counted)


def is_half(repetition: Repetition) -> bool:
    """Whether it is written as the first half of its figure."""
    statement = repetition.statement
    return statement.kind == "first" and 2 * statement.sounding_length == statement.length


def repetition_text(repetition: Repetition, numbers: Numbers = "figure", capital: bool = False) -> str:
    """Which repetition it is, in a sentence: `repetition 6`, `the half repetition`, or `the tail`."""
    text = f"repetition {number_text(repetition, numbers)}"
    if repetition.statement.kind == "tail":
        text = "the tail"
    elif numbers == "figure" and is_half(repetition):
        text = "the half repetition"
    return text[0].upper() + text[1:] if capital else text


def sum_text(figure: Figure) -> str:
    """The groups added up: `5 + 3 + 3 = 11`, or only the total where there are many."""
    if len(figure.groups) > 9:
        return f"{len(figure.groups)} groups = {figure.pulses}"
    return (
        f"{' + '.join(map(str, figure.groups))} = {figure.pulses}"
        if len(figure.groups) > 1
        else str(figure.pulses)
    )
