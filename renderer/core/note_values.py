"""Note values by name, as fractions of a whole note."""

from fractions import Fraction

_NAMES = {
    Fraction(1): ("whole note", "whole notes"),
    Fraction(3, 4): ("dotted half", "dotted halves"),
    Fraction(1, 2): ("half", "halves"),
    Fraction(3, 8): ("dotted quarter", "dotted quarters"),
    Fraction(1, 4): ("quarter", "quarters"),
    Fraction(1, 6): ("triplet quarter", "triplet quarters"),
    Fraction(3, 16): ("dotted eighth", "dotted eighths"),
    Fraction(1, 8): ("eighth", "eighths"),
    Fraction(1, 12): ("triplet eighth", "triplet eighths"),
    Fraction(1, 16): ("sixteenth", "sixteenths"),
    Fraction(1, 24): ("triplet sixteenth", "triplet sixteenths"),
    Fraction(1, 32): ("thirty-second", "thirty-seconds"),
}


def pulse_word(pulse: Fraction, count: int | Fraction = 2) -> str:
    """What a pulse is called, in the plural unless there is one.

    >>> pulse_word(Fraction(1, 2)), pulse_word(Fraction(1, 20)), pulse_word(Fraction(1, 8), 1)
    ('halves', '1/20 notes', 'eighth')
    >>> pulse_word(Fraction(3, 8)), pulse_word(Fraction(5, 8))
    ('dotted quarters', 'pulses of 5/8')
    """
    if pulse not in _NAMES and pulse.numerator > 1:
        return f"pulse of {pulse}" if count == 1 else f"pulses of {pulse}"
    one, several = _NAMES.get(pulse, (f"{pulse} note", f"{pulse} notes"))
    return one if count == 1 else several
