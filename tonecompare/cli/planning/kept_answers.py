"""The answers so far, in a file of the session folder, until the plan is written.

The file carries a checksum of its own text. One that is not as it was written, or that something
else wrote, is never read, changed or removed.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from tonecompare.errors import InputError
from tonecompare.language import tr
from tonecompare.whole_file import write_whole

FILE = "plan-answers.json"
_MADE_BY = "tonecompare plan: answers so far"


@dataclass(frozen=True)
class KeptAnswers:
    """Where answers are kept: the session folder."""

    folder: Path

    @property
    def path(self) -> Path:
        """The file."""
        return self.folder / FILE

    def read(self) -> dict[str, str]:
        """Return the kept answers by question; empty when there are none.

        Raises
        ------
        InputError
            When there is a file of this name that is not as this program wrote it.
        """
        if not self.path.exists() and not self.path.is_symlink():
            return {}
        answers = self._ours()
        if answers is None:
            raise InputError(
                tr(
                    "{path}: was changed, or not written by tonecompare plan, so it is left alone. "
                    "Rename or remove it, then plan again.",
                    path=self.path,
                )
            )
        return answers

    def save(self, answers: Mapping[str, str]) -> None:
        """Write the answers, whole or not at all; an earlier file goes only if it is ours."""
        self.read()
        self.folder.mkdir(parents=True, exist_ok=True)
        write_whole(self.path, _text(answers), replace=True)

    def remove(self) -> None:
        """Remove the file, if it is as it was written."""
        if self._ours() is not None:
            self.path.unlink()

    def _ours(self) -> dict[str, str] | None:
        if not self.path.is_file():  # a pipe would be waited for, a device never ends
            return None
        try:
            text = self.path.read_text(encoding="utf-8")
            answers = json.loads(text)["answers"]
            return dict(answers) if text == _text(answers) else None
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return None


def _text(answers: Mapping[str, str]) -> str:
    body = {"made_by": _MADE_BY, "answers": dict(answers)}
    checksum = hashlib.sha256(json.dumps(body, ensure_ascii=False).encode()).hexdigest()
    return json.dumps(body | {"sha256": checksum}, ensure_ascii=False, indent=1) + "\n"
