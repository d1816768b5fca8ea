"""Known faults of the installed libraries, as far as anybody can be asked about them.

    python tests/helpers/dependency_audit.py PIP_AUDIT SITE_PACKAGES

``PIP_AUDIT`` is the program of that name, in an environment of its own. One line is printed when
nothing is known, whether because there is nothing or because the service cannot be reached; what
is found is named and fails.
"""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

#: Every new environment has them, in whatever version its Python brings; nothing here needs them.
NOT_OURS = {"pip", "setuptools", "tonecompare", "wheel"}


def judged(answer: str) -> tuple[tuple[str, ...], int]:
    """Return what is to be said of an answer of pip-audit in JSON, and the exit code."""
    try:
        entries: list[dict[str, Any]] = json.loads(answer)["dependencies"]
    except (ValueError, KeyError, TypeError):
        entries = []
    ours = [entry for entry in entries if entry["name"] not in NOT_OURS]
    asked = [entry for entry in ours if "vulns" in entry]
    if not asked:
        return ("Dependencies not audited: the vulnerability service cannot be reached here.",), 0
    found = tuple(
        f"{entry['name']} {entry['version']}: {fault['id']}, mended in "
        f"{', '.join(fault['fix_versions']) or 'no version yet'}"
        for entry in asked
        for fault in entry["vulns"]
    )
    if found:
        return found, 1
    not_asked = len(ours) - len(asked)
    return (f"{len(asked)} dependencies audited, {not_asked} could not be: nothing known.",), 0


def main(program: str, site_packages: str) -> int:
    """Audit an environment and return the exit code."""
    command = [
        program, "--path", site_packages, "--format", "json", "--progress-spinner", "off",
        "--timeout", "15",
    ]  # fmt: skip
    try:
        answer = subprocess.run(command, capture_output=True, text=True, timeout=600).stdout
    except (OSError, subprocess.TimeoutExpired):
        answer = ""
    lines, code = judged(answer)
    print("\n".join(lines))
    return code


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
