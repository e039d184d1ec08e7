"""The sentences that pictures say, worked out from the timeline."""

from renderer.schedule.wording import COUNT_WORDS as COUNT_WORDS
from renderer.schedule.wording import count_of as count_of
from renderer.schedule.wording import mixed as mixed
from renderer.schedule.wording import pulse_word as pulse_word
