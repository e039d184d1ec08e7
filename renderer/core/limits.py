"""How much a spec may hold. Wide enough for a day of music; beyond it stands a slip of the pen."""

from fractions import Fraction

SPEC_CHARACTERS = 2_000_000
SPEC_BYTES = 4 * SPEC_CHARACTERS
DEPTH = 30
"""Lists and maps inside each other."""
NODES = 60_000
"""Values in the whole spec, each alias counted as what it stands for."""
TEXT_CHARACTERS = 1_000
"""In one key or value; each has a closer limit of its own, which is told first where the text is shorter."""
PROBLEMS_SHOWN = 100
PROBLEMS_SOUGHT = 300
"""Reading ends with so many; more than are shown, as they are not found in the order of the text."""

BARS = 100_000
"""In the whole piece, repeats counted as played."""
FORM_ENTRIES = 2_000
REPEATS = 1_000
FIGURES = 100
FIGURE_PULSES = 200
FIGURE_GROUPS = 40
STAFF_SIGNS = 120
"""Notes and rests of a figure that stands on a staff: three systems hold them at a size that can be read."""
STAFF_GROUP_SIGNS = 40
"""Those of one group, which stands on one system."""
ITEMS = 2_000
"""In one plays list."""
TIMES = 100_000
SEGMENTS = 100
VOICES = 12
PARTS = 12
LABEL_CHARACTERS = 40
TITLE_CHARACTERS = 80
CARD_CHARACTERS = 60
"""In one entry of a card's list."""
CARD_ENTRIES = 8
OWN_WORD_CHARACTERS = 32
"""Of what pictures call a thing."""
THUMBNAIL_CHARACTERS = 24
THUMBNAIL_WORDS = 3
"""Read at the size of a stamp."""
METER_COUNT = 64
METER_UNITS = (1, 2, 4, 8, 16, 32, 64)
TEMPO_LEAST = 1
TEMPO_MOST = 1_000
PULSE_DENOMINATOR = 1_024
PULSE_MOST = Fraction(1)
COUNT_IN_BARS = 8
COUNT_IN_BEATS = 64
SPEED_LEAST = 25
"""Per cent of the tempo; the most is 100."""
LEVEL_LEAST = -60
LEVEL_MOST = 12
"""dB."""
DUCK_MOST = 24
LUFS_LEAST = -40
LUFS_MOST = -9
"""Louder than this a mix is all limiter."""
FERMATA_SECONDS = 600
RECORDING_SECONDS = 86_400
SOUND_FILE_SECONDS = 4 * 3600
SOUND_CHANNELS = 32
SAMPLE_RATE_LEAST = 4_000
SAMPLE_RATE_MOST = 768_000
DIGITS = 9
"""In any number."""
SAID_CHARACTERS = 160
"""A line that is said over a step, and its caption."""
READINGS = 6
"""Of a part that is read from a file, that are offered."""
