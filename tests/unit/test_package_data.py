"""What is not code is installed with the code: the demo, parts of pages, published ranges, marks of types."""

import tomllib

from tests.places import ROOT

PACKAGES = ("model", "reports", "scenarios")


def test_every_file_of_data_is_declared() -> None:
    setup = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    declared = {
        path
        for package in PACKAGES
        for pattern in setup["package-data"]["*"] + setup["package-data"].get(package, [])
        for path in (ROOT / package).glob(pattern)
    }
    found = {
        path
        for package in PACKAGES
        for path in (ROOT / package).rglob("*")
        if path.is_file() and path.suffix not in (".py", ".pyc")
    }
    assert {ROOT / package / "py.typed" for package in PACKAGES} <= found
    assert len(found) > 30
    assert found == declared


def test_every_folder_of_code_is_a_package() -> None:
    folders = {path.parent for package in PACKAGES for path in (ROOT / package).rglob("*.py")}
    assert len(folders) > 20
    assert [folder for folder in sorted(folders) if not (folder / "__init__.py").is_file()] == []
