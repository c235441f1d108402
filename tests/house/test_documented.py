"""Every public name says what it does and what types it takes; every formula says where it is from."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator

import pytest

from house import ROOT, SRC, Public, arguments, code_files, public_names, tree

NO_NUMPYDOC_PARAMETER = {"self", "cls"}


def every_public_name() -> list[Public]:
    return [public for file in code_files() for public in public_names(file)]


def physics_functions() -> Iterator[Public]:
    for public in every_public_name():
        # formula.py describes formulas and calculates none.
        inside = public.file.is_relative_to(SRC / "physics") and public.file.name != "formula.py"
        if inside and "." not in public.name and not isinstance(public.node, ast.ClassDef):
            yield public


def test_every_file_says_what_it_is_for() -> None:
    silent = [file.relative_to(ROOT).as_posix() for file in code_files() if not ast.get_docstring(tree(file))]
    assert silent == []


def test_every_public_name_is_documented() -> None:
    assert [str(public) for public in every_public_name() if not ast.get_docstring(public.node)] == []


def test_every_public_function_is_annotated() -> None:
    bare = []
    for public in every_public_name():
        if isinstance(public.node, ast.ClassDef):
            continue
        missing = [arg.arg for arg in arguments(public.node) if arg.annotation is None]
        missing = [name for name in missing if name not in NO_NUMPYDOC_PARAMETER]
        if public.node.returns is None:
            missing.append("return")
        bare += [f"{public}: {name}" for name in missing]
    assert bare == []


@pytest.mark.parametrize("section", ("Parameters", "Returns", "References"))
def test_every_formula_has_its_sections(section: str) -> None:
    heading = re.compile(rf"^{section}\n-+$", re.MULTILINE)
    wanting = []
    for public in physics_functions():
        node = public.node
        assert not isinstance(node, ast.ClassDef)
        if section == "Parameters" and not arguments(node):
            continue
        if not heading.search(ast.get_docstring(node) or ""):
            wanting.append(str(public))
    assert wanting == []


def test_every_formula_is_held_against_a_figure_from_outside() -> None:
    assert sorted(formula_names() - checked_names()) == []


def test_no_reference_case_names_a_function_that_is_not_there() -> None:
    assert sorted(checked_names() - formula_names()) == []


def test_every_reference_case_says_its_source_and_status() -> None:
    statuses = {"read", "secondary", "memory", "practice", "derived"}
    wrong = [
        f"{case.get('function')}: {case.get('source')!r}, {case.get('status')!r}"
        for case in reference_cases()
        if not case.get("source") or case.get("status") not in statuses
    ]
    assert wrong == []


def test_there_are_reference_cases() -> None:
    assert len(list(reference_cases())) > 0


def reference_cases() -> Iterator[dict[str, object]]:
    for file in sorted((ROOT / "tests" / "references").glob("*.toml")):
        yield from tomllib.loads(file.read_text(encoding="utf-8")).get("case", [])


def formula_names() -> set[str]:
    """Each formula as "module.function"."""
    return {
        ".".join((*public.file.relative_to(SRC / "physics").with_suffix("").parts, public.name))
        for public in physics_functions()
    }


def checked_names() -> set[str]:
    return {
        str(case["function"]).removeprefix("soakage.").removeprefix("physics.") for case in reference_cases()
    }
