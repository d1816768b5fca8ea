"""README's help blocks: what those that stand there should say, and a command to write them anew.

``python tests/helpers/readme_help.py`` rewrites README's help blocks from the program's own output.
"""

from __future__ import annotations

import re
from pathlib import Path

from click.testing import CliRunner

from tonecompare.cli import main

README = Path(__file__).resolve().parents[2] / "README.md"
#: A block: fence, the command line that prints it, what it prints, fence.
BLOCK = re.compile(
    r"```text\n\$ (?P<command>tonecompare [^\n]*--help)\n(?P<shown>.*?)```\n", re.DOTALL
)


def real_output(command: str) -> str:
    """Return what ``tonecompare … --help`` prints on a terminal of 80 columns."""
    result = CliRunner().invoke(
        main, command.split()[1:], prog_name="tonecompare", terminal_width=80
    )
    if result.exit_code:
        raise ValueError(f"{command} ended with exit code {result.exit_code}: {result.output}")
    return result.output


def renewed(text: str) -> str:
    """Return README's text with every help block as the program prints it now."""
    return BLOCK.sub(
        lambda block: f"```text\n$ {block['command']}\n{real_output(block['command'])}```\n", text
    )


if __name__ == "__main__":
    README.write_text(renewed(README.read_text(encoding="utf-8")), encoding="utf-8")
