"""Texts of specs that several tests read."""

EVERYTHING = """
title: Kiln Song
tempo: 112
meter: {1: 4/4, 9: 7/8 in 2+2+3}
pulse: 1/16
pickup: 1/4
figures:
  kiln: [5, 3, 3]
  brief: {groups: [3, 3, 2], from: kiln}
  bell: {hits: X..x. xx. x..., pulse: 1/8}
  gong: {groups: [4, 4, 3], accents: [1, 9]}
  row: x..x.
parts: {marimba: main, kit: {1: [bell, meter], 9.10: tacet}}
harmony: N.C.
form:
  - section: Opening
    bars: 12
    harmony: {1: Em, -4: G}
    plays: kiln
    parts: {kit: {9.3: meter}}
  - section: Theme
    bars: 12
    harmony: {1: [Dm, F], 9: C, 12.4.3: G}
    plays: on
    repeat: 2
  - section: Middle
    bars: 8
    starts: after
    tempo: {1: 3/8 = 76, 7: {to: 80}}
    fermata: {8.4: 2}
    plays: [{figure: brief, times: 3.5}, {tail: [4, 4]}, kiln, {first: 5, of: kiln}, {rest: 4, pulse: 1/8}]
  - section: Two
    bars: 8
    voices: {main: on, bell: [bell, {tail: 3}]}
    starts: {main: after, bell: 1.3}
  - again: Opening
    section: Return
    bars: 13
    sync: 1:21.4
recording: take.flac
sync: {1: 0.532, 13: 26.94}
fermata: {1: 1}
click: {every: beat, count_in: 1}
segments: [figure, {show: figure, figure: bell}, {show: spread, sections: [Opening, Theme]}, play]
"""
