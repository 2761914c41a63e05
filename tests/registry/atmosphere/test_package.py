import re
import subprocess
import sys
from pathlib import Path

import registry.atmosphere

SOURCES = sorted(Path(registry.atmosphere.__file__).parent.glob("*.py"))


def test_the_package_loads_no_django():
    code = "import sys, registry.atmosphere; print('django' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"


def test_no_module_reads_the_clock():
    assert len(SOURCES) > 10
    for source in SOURCES:
        text = source.read_text()
        assert not re.search(r"\.(now|utcnow|today)\(|\bimport time\b", text), source.name
