"""The sound files that a spec names: in its own folder, unless the user trusts it; never a network, never a pipe."""

import os
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner

from renderer.command import main
from renderer.core.errors import SpecError
from renderer.lesson.lesson import open_lesson
from tests.lessons import SHORT
from tests.performances import perform, write_take

WITHOUT_RECORDING = SHORT.replace("segments: [figure, spread, play]\n", "segments: [figure]\n")
TRUST_MEND = "Put the file beside the spec. If you trust whoever wrote this spec, add --trust to the command."


def write_spec(folder: Path, more: str) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / "weir.yaml"
    path.write_text(WITHOUT_RECORDING + more, encoding="utf-8")
    return path


def naming(name: Path | str) -> str:
    return f"recording: {name}\nsync: {{1: 0.5}}\n"


def saying(name: Path | str) -> str:
    return f"segments: [{{show: figure, say: [{{line: Count with me., file: {name}}}]}}]\n"


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """A sound file outside the spec's folder."""
    path = tmp_path / "private.wav"
    write_take(path, perform([Fraction(1, 2) + beat * Fraction(60, 137) for beat in range(20)], 12))
    return path


class TestTrust:
    def told(self, spec: Path) -> str:
        with pytest.raises(SpecError) as caught:
            open_lesson(spec)
        return str(caught.value).replace(f"{spec}:", "")

    def test_an_absolute_path(self, tmp_path: Path, take: Path) -> None:
        line = f"recording: {take}"
        assert self.told(write_spec(tmp_path / "lesson", naming(take))) == (
            f"20:12: recording: {take} is an absolute path.\n    {line}\n               ^\n  {TRUST_MEND}"
        )

    @pytest.mark.parametrize("name", ["../private.wav", "takes/../../private.wav"])
    def test_a_path_that_leads_out_of_the_folder(self, name: str, tmp_path: Path, take: Path) -> None:
        told = self.told(write_spec(tmp_path / "lesson", naming(name)))
        assert told.startswith(f"20:12: recording: {name} is outside the spec's folder.\n")
        assert told.endswith(TRUST_MEND)

    def test_a_link_that_leads_out_of_the_folder(self, tmp_path: Path, take: Path) -> None:
        spec = write_spec(tmp_path / "lesson", naming("take.wav"))
        (spec.parent / "take.wav").symlink_to(take)
        assert "take.wav is outside the spec's folder." in self.told(spec)

    def test_a_linked_folder_that_leads_out(self, tmp_path: Path, take: Path) -> None:
        spec = write_spec(tmp_path / "lesson", naming("takes/private.wav"))
        (spec.parent / "takes").symlink_to(tmp_path)
        assert "takes/private.wav is outside the spec's folder." in self.told(spec)

    def test_voice_files_too_all_of_them_at_once(self, tmp_path: Path, take: Path) -> None:
        spec = tmp_path / "lesson"
        text = naming("../private.wav") + saying("../private.wav").replace(
            "}]}]", "}, {file: /etc/hostname}]}]"
        )
        spec = write_spec(spec, "")
        spec.write_text(WITHOUT_RECORDING.replace("segments: [figure]\n", text), encoding="utf-8")
        told = self.told(spec)
        assert "recording: ../private.wav is outside the spec's folder." in told
        assert "say[1].file: /etc/hostname is an absolute path." in told
        assert told.count("^") == 2  # a file that is named twice is told once

    def test_what_lies_in_the_folder_needs_none(self, tmp_path: Path, take: Path) -> None:
        spec = write_spec(tmp_path / "lesson", naming("takes/..take.wav"))
        (spec.parent / "takes").mkdir()
        os.link(take, spec.parent / "takes" / "..take.wav")
        assert open_lesson(spec).spec.recording == "takes/..take.wav"
        link = tmp_path / "linked"
        link.symlink_to(spec.parent)
        assert open_lesson(link / "weir.yaml").spec.recording == "takes/..take.wav"

    @pytest.mark.parametrize(
        "arguments",
        [
            ("check",),
            ("timeline",),
            ("render", "--size", "128x72", "--fps", "4"),
            ("still", "figure@0s"),
            ("sound", "--no-stems"),
            ("align",),
        ],
        ids=lambda arguments: arguments[0],
    )
    def test_every_command_refuses_and_takes_trust(
        self, arguments: tuple[str, ...], tmp_path: Path, take: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        spec = write_spec(tmp_path / "lesson", naming(take))
        monkeypatch.chdir(tmp_path)
        command, *rest = arguments
        refused = CliRunner().invoke(main, [command, str(spec), *rest], catch_exceptions=False)
        assert refused.exit_code == 1
        assert "add --trust to the command" in refused.output
        assert not (tmp_path / "out").exists()
        opened = CliRunner().invoke(main, [command, str(spec), *rest, "--trust"], catch_exceptions=False)
        assert opened.exit_code == 0, opened.output
