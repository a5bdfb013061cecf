"""Every public physics function says what goes in, in the form of the house."""

import importlib
import inspect
import pkgutil
import re

import pytest

from clampgraph import physics

MODULES = ["disc_springs", "stacks", "cylinders", "valve_flow", "chambers", "seal_gland", "moisture"]
MODULES += ["air_quality", "threads", "preload", "tapers", "retaining_rings", "life"]


def offered():
    for name in MODULES:
        module = importlib.import_module(f"clampgraph.physics.{name}")
        for symbol in module.__all__:
            thing = getattr(module, symbol)
            if inspect.isfunction(thing):
                yield pytest.param(thing, id=f"{name}.{symbol}")


FUNCTIONS = list(offered())


def section(text, title):
    """Lines of one numpydoc section."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[^\n]*\n-+$|\Z)", text, re.MULTILINE | re.DOTALL)
    assert found, f"no section {title}"
    return found[1]


@pytest.mark.parametrize("function", FUNCTIONS)
def test_parameters_equal_the_signature(function):
    """The docstring names the parameters of the signature in its order, each with a unit or its type."""
    parameters = section(inspect.getdoc(function), "Parameters")
    told = re.findall(r"^(\w+) : ", parameters, re.MULTILINE)
    assert told == list(inspect.signature(function).parameters)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_numbers_have_their_unit(function):
    """Every number among the parameters says its unit in square brackets."""
    parameters = section(inspect.getdoc(function), "Parameters")
    for kind, words in re.findall(r"^\w+ : ([^\n]+)\n((?:    [^\n]*\n?)+)", parameters, re.MULTILINE):
        if "float" in kind or kind == "int":
            assert re.search(r"\[[^\]]+\]", words), words


@pytest.mark.parametrize("function", FUNCTIONS)
@pytest.mark.parametrize("title", ["Returns", "Raises", "Notes", "Examples", "References"])
def test_all_sections_are_there(function, title):
    """No section of an engineering docstring is left out or empty."""
    assert section(inspect.getdoc(function), title).strip()


@pytest.mark.parametrize("function", FUNCTIONS)
def test_formula_is_shown(function):
    """The formula stands in the docstring."""
    assert ".. math::" in inspect.getdoc(function)


def test_every_module_is_held_to_the_form():
    """A new module of formulas cannot slip past these tests."""
    found = {info.name for info in pkgutil.iter_modules(physics.__path__) if not info.ispkg}
    assert found - {"bounds", "calculation", "catalogue"} == set(MODULES)


@pytest.mark.parametrize("name", [*MODULES, "bounds"])
def test_all_is_sound(name):
    """What a module offers exists and is listed once."""
    module = importlib.import_module(f"clampgraph.physics.{name}")
    assert len(set(module.__all__)) == len(module.__all__)
    assert all(hasattr(module, symbol) for symbol in module.__all__)
