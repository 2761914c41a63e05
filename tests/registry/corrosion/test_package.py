import doctest
import importlib
import pkgutil
import subprocess
import sys

import pytest

import registry.corrosion
from registry.corrosion import constants

MODULES = [name for _, name, _ in pkgutil.iter_modules(registry.corrosion.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_docstring_examples_hold(name):
    assert doctest.testmod(importlib.import_module(f"registry.corrosion.{name}")).failed == 0


def test_physics_loads_neither_django_nor_the_rest_of_the_project():
    lines = [f"import registry.corrosion.{name}" for name in MODULES] + [
        "import sys",
        "own = ('registry', 'registry.corrosion')",
        "loaded = [m for m in sys.modules if m.split('.')[0] in"
        " ('django', 'config', 'scheduling', 'reports')"
        " or m.startswith('registry') and m not in own"
        " and not m.startswith('registry.corrosion.')]",
        "sys.exit(repr(loaded) if loaded else 0)",
    ]
    done = subprocess.run(
        [sys.executable, "-c", "\n".join(lines)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_every_constant_has_unit_source_and_basis():
    for constant in constants.TABLE.values():
        assert constant.unit and constant.source
        assert constant.basis in ("measured", "published", "assumed")


def test_every_named_constant_is_in_the_table_with_its_value():
    named = {
        name.lower(): value
        for name, value in vars(constants).items()
        if name.isupper() and isinstance(value, float)
    }
    assert named == {key: constant.value for key, constant in constants.TABLE.items()}
