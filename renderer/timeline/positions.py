"""Positions as they are written, and the ticks that they stand for."""

from collections.abc import Sequence
from typing import NamedTuple

from renderer.core.errors import KeyPath, Problem
from renderer.spec.model import Position
from renderer.timeline.model import Bar


def position_text(position: Position) -> str:
    """As it is written: `9`, `9.3` or `9.3.2`.

    >>> position_text(Position(9, 3, 2)), position_text(Position(-4))
    ('9.3.2', '-4')
    """
    bar, beat, pulse = position
    if pulse is not None:
        return f"{bar}.{beat}.{pulse}"
    return f"{bar}.{beat}" if beat != 1 else f"{bar}"


class Scope(NamedTuple):
    """What a position is counted in: the piece, or one pass of a section."""

    name: str
    first_bar_number: int
    bar_count: int

    def bar_number(self, bar: int) -> int | None:
        """The piece's number of the scope's `bar`: from 1, -1 its last, 0 the one before it. None outside."""
        within = bar if bar >= 0 else self.bar_count + 1 + bar
        inside = (0 if bar == 0 else 1) <= within <= self.bar_count
        return self.first_bar_number + within - 1 if inside else None

    def outside(self, position: Position, path: KeyPath) -> Problem:
        """What is wrong with a position that is in none of the scope's bars."""
        bars = "1 bar" if self.bar_count == 1 else f"{self.bar_count} bars"
        text = f"there is no {position_text(position)}: {self.name} has {bars}."
        there = f"a bar from 1 to {self.bar_count}, or -1 for the last one" if self.bar_count > 1 else "bar 1"
        return Problem(path, text, f"Write {there}.", on_key=True)


class BarPlace(NamedTuple):
    """A tick, and the number of the bar that it lies in."""

    at: int
    bar_number: int


class Places:
    """Where the bars stand, to turn positions into ticks.

    `beats` has, for each bar, where its felt beats begin and its length, in ticks from where it begins when it is
    full. `pulse` is the ticks to the piece's own pulse, None where it has none, and `pulse_text` how it is written.
    """

    def __init__(
        self, bars: Sequence[Bar], beats: Sequence[tuple[int, ...]], pulse: int | None, pulse_text: str
    ) -> None:
        self.bars = bars
        self.beats = beats
        self.first_bar_number = bars[0].number
        self.pulse = pulse
        self.pulse_text = pulse_text

    def find(self, position: Position, scope: Scope, path: KeyPath) -> BarPlace | Problem:
        """The place of a position, or what is wrong with it."""
        bar_number = scope.bar_number(position.bar)
        if bar_number is None:
            return scope.outside(position, path)
        if bar_number < self.first_bar_number:
            text = f"there is no {position_text(position)}: nothing comes before bar 1."
            return Problem(path, text, "Write a bar from 1, or give the piece a pickup.", on_key=True)
        index = bar_number - self.first_bar_number
        bar, beats = self.bars[index], self.beats[index]
        count = len(beats) - 1
        if not 1 <= position.beat <= count:
            there = "1 beat" if count == 1 else f"{count} beats"
            text = (
                f"there is no {position_text(position)}: bar {position.bar} has {there} ({bar.meter.text})."
            )
            return Problem(path, text, f"Write a beat from 1 to {count}.", on_key=True)
        within = self._within_beat(position, beats, path)
        if isinstance(within, Problem):
            return within
        at = bar.end - beats[-1] + beats[position.beat - 1] + within
        return BarPlace(at, bar_number) if at >= bar.at else self._before_pickup(position, bar, beats, path)

    def _within_beat(self, position: Position, beats: tuple[int, ...], path: KeyPath) -> int | Problem:
        """Ticks from the beat to the position's pulse. A spec in which positions name pulses has a pulse."""
        if position.pulse is None or self.pulse is None:
            return 0
        length = beats[position.beat] - beats[position.beat - 1]
        pulses = -(-length // self.pulse)
        if not 1 <= position.pulse <= pulses:
            count = "1 pulse" if pulses == 1 else f"{pulses} pulses"
            text = f"there is no {position_text(position)}: that beat has {count} of {self.pulse_text}."
            return Problem(path, text, "Write one of them, or the next beat.", on_key=True)
        return (position.pulse - 1) * self.pulse

    def _before_pickup(self, position: Position, bar: Bar, beats: tuple[int, ...], path: KeyPath) -> Problem:
        text = f"there is no {position_text(position)}: the pick-up, counted from its end, begins later."
        full_at = bar.end - beats[-1]
        inside = [number for number, start in enumerate(beats[:-1], 1) if full_at + start >= bar.at]
        if inside:
            mend = f"Its first beat is 0.{inside[0]}."
        elif at := self._in_last_beat(bar, beats):
            mend = f"It begins at {at}."
        else:
            mend = "It begins between two pulses; give the piece a longer pickup."
        return Problem(path, text, mend, on_key=True)

    def _in_last_beat(self, bar: Bar, beats: tuple[int, ...]) -> str | None:
        """The position at which a pick-up shorter than a beat begins, if it begins on a pulse."""
        pulses, left = divmod(bar.at - (bar.end - beats[-1]) - beats[-2], self.pulse or 1)
        return f"0.{len(beats) - 1}.{pulses + 1}" if self.pulse and not left else None
