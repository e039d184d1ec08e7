"""How messages are worded, checked wherever a test reads one."""

from renderer.core.errors import SpecError


def in_one_voice(error: SpecError, spec: str) -> SpecError:
    """The error, once every text of it follows its key path in lower case, or begins with what `spec` says;
    mends begin with a capital; all end with a full stop."""
    for problem in error.problems:
        first = problem.text.split()[0].strip("'\"([{,:;.")
        assert not first[:1].isupper() or first in spec, problem.text
        assert problem.text.endswith("."), problem.text
        if problem.mend is not None:
            assert not problem.mend[0].islower(), problem.mend
            assert problem.mend.endswith((".", "?")), problem.mend
    return error
