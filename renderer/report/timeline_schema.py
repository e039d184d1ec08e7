"""The JSON Schema (2020-12) of the timeline's JSON: every key, nothing else."""

Schema = dict[str, object]

FRACTION: Schema = {
    "type": "string",
    "pattern": r"^-?\d+(/[1-9]\d*)?$",
    "description": "An exact fraction.",
}
WHOLES: Schema = {"$ref": "#/$defs/wholes"}
TEXT: Schema = {"type": "string"}
COUNT: Schema = {"type": "integer", "minimum": 1}
BAR: Schema = {"type": "integer", "minimum": 0, "description": "Counted as played, from 1; a pick-up is 0."}
BEAT: Schema = {"$ref": "#/$defs/beat"}
SECONDS: Schema = {"type": "number", "description": "From bar 1's downbeat; a pick-up is negative."}
TRUTH: Schema = {"type": "boolean"}


def timeline_schema() -> Schema:
    """What `barcross timeline --json` prints, described."""
    tables = {key: {"type": "array", "items": _row(row)} for key, row in _ROWS.items()}
    properties: Schema = {
        "title": TEXT,
        "bars": {**COUNT, "description": "Without the pick-up."},
        "length": {**WHOLES, "description": "Of the piece, without the pick-up."},
        "seconds": {**SECONDS, "exclusiveMinimum": 0, "description": "From bar 1's downbeat to the end."},
        "pickup": {**WHOLES, "description": "The length of the bar before bar 1; 0 if there is none."},
        **tables,
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A piece's timeline",
        "$defs": {
            "wholes": {**FRACTION, "description": "An exact fraction of a whole note."},
            "beat": {**FRACTION, "description": "In felt beats from 1: 7/2 is half way through beat 3."},
        },
        **_row(properties),
    }


def _row(properties: Schema) -> Schema:
    """An object with exactly these keys."""
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _of(key: str, about: str) -> Schema:
    return {"$ref": f"#/$defs/{key}", "description": about}


def _list(items: Schema, about: str) -> Schema:
    return {"type": "array", "items": items, "description": about}


_PLACE: Schema = {"at": WHOLES, "bar": BAR, "beat": BEAT, "seconds": SECONDS}
_REPETITION: Schema = {**COUNT, "description": "A repetition's number in its voice."}
_GROUP = _row({"at": WHOLES, "length": WHOLES})

_ROWS: dict[str, Schema] = {
    "sections": {"name": TEXT, "pass": COUNT, "bar": COUNT, "bars": COUNT, "at": WHOLES, "seconds": SECONDS},
    "bar_lines": {"bar": BAR, "section": TEXT, "meter": TEXT, "at": WHOLES, "seconds": SECONDS},
    "beats": {"bar": BAR, "beat": COUNT, "at": WHOLES, "seconds": SECONDS},
    "figures": {
        "name": TEXT,
        "pulse": WHOLES,
        "length": WHOLES,
        "groups": _list(COUNT, "Pulses of each group."),
        "hits": _list(COUNT, "Pulses that sound, from 1."),
        "accents": _list(COUNT, "Pulses that are accented, from 1."),
        "from": {"type": ["string", "null"], "description": "The figure that this is a variant of."},
    },
    "repetitions": {
        "voice": TEXT,
        "figure": {"type": ["string", "null"], "description": "null for a tail."},
        "number": {**COUNT, "description": "In its voice, tails too."},
        "count": {
            "type": ["integer", "null"],
            "minimum": 1,
            "description": "In an unbroken row of its figure in one run of a list; null for a tail.",
        },
        "section": {**TEXT, "description": "Where it starts."},
        **_PLACE,
        "offset": {**FRACTION, "description": "From its bar's downbeat, in its own pulses."},
        "length": _of("wholes", "The full figure's, or the tail's sum."),
        "played": _of("wholes", "What sounded."),
        "cut": {**TRUTH, "description": "Shortened by the form."},
        "kind": {"enum": ["whole", "cut", "first", "tail"]},
        "groups": _list(_GROUP, "What sounded; the last one may be shortened."),
        "pulse": WHOLES,
    },
    "hits": {"voice": TEXT, "at": WHOLES, "seconds": SECONDS, "accent": TRUTH, "repetition": _REPETITION},
    "crossings": {
        "voice": TEXT,
        "repetition": _REPETITION,
        "from": TEXT,
        "to": TEXT,
        **_PLACE,
        "into": _of("wholes", "From the repetition's start."),
        "group": COUNT,
        "into_group": _of("wholes", "From the group's start."),
    },
    "landings": {
        "voice": TEXT,
        "repetition": _REPETITION,
        "accent": {**COUNT, "description": "Its number in the figure or tail."},
        "at": WHOLES,
        "bar": BAR,
        "played": {**TRUTH, "description": "false where its repetition was ended just there."},
    },
    "realignments": {
        "voice": TEXT,
        "repetition": _REPETITION,
        "at": WHOLES,
        "bar": BAR,
        "full": {**TRUTH, "description": "Whether the downbeat is a section's first."},
    },
    "handovers": {
        "voice": TEXT,
        "from": {"type": ["string", "null"], "description": "What one list ends with; null for a tail."},
        "to": {"type": ["string", "null"], "description": "What the next one begins with; null for a tail."},
        "at": _of("wholes", "Where that begins."),
        "bar": BAR,
        "beat": BEAT,
        "line": _of("wholes", "The first downbeat of its section."),
        "over": _of("wholes", "How far past the line the old one sounded; below 0: before it."),
        "ended": {"enum": ["whole", "cut"], "description": "Whether the old one's last was cut."},
    },
    "harmony": {"name": TEXT, **_PLACE},
    "parts": {
        "part": TEXT,
        "side": {**TEXT, "description": "A voice's name, meter or tacet."},
        **_PLACE,
    },
    "tempo": {
        "quarters": {**FRACTION, "description": "Quarter notes a minute."},
        "to": {"type": ["string", "null"], "description": "Where it moves to, evenly, by the next row."},
        **_PLACE,
    },
    "marks": {
        "text": TEXT,
        "at": WHOLES,
        "to": _of("wholes", "Where it ends."),
        "bar": BAR,
        "bars": {**COUNT, "description": "Over how many bars."},
        "seconds": SECONDS,
    },
}
