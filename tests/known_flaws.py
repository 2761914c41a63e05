"""`python -m tests.known_flaws`: whether a locked package has a flaw that somebody made known.

The source of that knowledge is an outside service. Where it cannot be reached, or does not know a
package, that is said plainly and nothing fails; so in CI, which depends on no outside service, the
question is not asked.
"""

import json
import os
import subprocess
import sys
from typing import Any

LOCKED = ("requirements.txt", "requirements-dev.txt")
PATIENCE_S = 180


def main() -> int:
    if os.environ.get("CI"):
        print("known flaws: not asked in CI, which depends on no outside service")
        return 0
    return max(judge(name, *ask(name)) for name in LOCKED)


def ask(name: str) -> tuple[str, str]:
    """What pip-audit found, as JSON, and what it complained of."""
    command = [
        sys.executable, "-m", "pip_audit", "--requirement", name, "--disable-pip",
        "--require-hashes", "--format", "json", "--progress-spinner", "off", "--timeout", "10",
    ]  # fmt: skip
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S)
    except subprocess.TimeoutExpired:
        return "", f"no answer within {PATIENCE_S} s"
    return done.stdout, done.stderr.strip()


def judge(name: str, found: str, complaint: str) -> int:
    """1 where a flaw is known, else 0; says how much of the question was answered."""
    packages = read(found)
    if packages is None:
        why = complaint.splitlines()[-1][:200] if complaint else "no answer"
        print(f"known flaws in {name}: NOT KNOWN, the source could not be reached ({why})")
        return 0
    unknown = [one["name"] for one in packages if "vulns" not in one]
    flawed = [one for one in packages if one.get("vulns")]
    for one in flawed:
        for flaw in one["vulns"]:
            mended = ", ".join(flaw.get("fix_versions") or ()) or "in no release yet"
            print(f"{one['name']} {one['version']}: {flaw['id']}, mended {mended}")
    asked = len(packages) - len(unknown)
    print(f"known flaws in {name}: {len(flawed)} of the {asked} packages that were answered for")
    if unknown:
        print(f"  NOT KNOWN of {len(unknown)}: the source does not know them, or was not reached")
    return 1 if flawed else 0


def read(found: str) -> list[dict[str, Any]] | None:
    try:
        return json.loads(found)["dependencies"]
    except (ValueError, KeyError, TypeError):
        return None


if __name__ == "__main__":
    sys.exit(main())
