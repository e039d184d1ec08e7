"""Small pieces as text, for tests: what follows a head that every piece needs."""

from textwrap import dedent

from renderer.reading.load import parse_spec
from renderer.spec.model import Spec
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline

HEAD = """\
title: A test
tempo: 132
meter: 4/4
pulse: 1/16
figures:
  kiln: [5, 3, 3]
  brief: [3, 3, 2]
"""


def spec_of(form: str, head: str = HEAD) -> Spec:
    """The spec of a head and a form (or any further keys)."""
    return parse_spec(head + dedent(form), "test.yaml")


def timeline_of(form: str, head: str = HEAD) -> Timeline:
    """Its timeline."""
    return build_timeline(spec_of(form, head))


def statements(timeline: Timeline, voice: str = "main") -> list[str]:
    """What a voice plays, a short text a repetition: figure or `tail`, first pulse, pulses played, kind."""
    return [
        f"{row.statement.figure or 'tail'} {row.at // row.statement.pulse} "
        f"{row.statement.sounding_length // row.statement.pulse} {row.statement.kind}"
        for row in timeline.repetitions
        if row.voice == voice
    ]
