"""Import directions: the contracts in pyproject.toml, and nothing imported inside a function."""

import ast
import subprocess
import sys

from tests.guards.test_sizes import APPS, ROOT, files


def test_the_import_contracts_hold():
    done = subprocess.run(
        [sys.executable, "-m", "importlinter.cli", "lint", "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 0, done.stdout


def test_nothing_is_imported_inside_a_function():
    hidden = [
        f"{path.relative_to(ROOT)}:{inner.lineno}"
        for path in files(*APPS)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
        for inner in ast.walk(node)
        if isinstance(inner, ast.Import | ast.ImportFrom)
    ]

    assert not hidden


def test_a_foreign_key_that_points_down_leaves_no_way_back():
    """Otherwise lower code could reach up through a reverse attribute that no import check can see."""
    from django.apps import apps

    order = {name: rank for rank, name in enumerate(APPS)}
    open_doors = [
        f"{model.__name__}.{field.name}"
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if field.is_relation
        and not field.auto_created
        and field.related_model is not None
        and model._meta.app_label in order
        and field.related_model._meta.app_label in order
        and order[model._meta.app_label] > order[field.related_model._meta.app_label]
        and not field.remote_field.hidden
    ]

    assert not open_doors
