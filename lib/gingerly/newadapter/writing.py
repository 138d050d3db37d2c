"""Fill a template in with a name, and write it as a package of its own. It reads and writes files, nothing else."""

from __future__ import annotations

import keyword
import re
import sys
from importlib.metadata import packages_distributions
from importlib.resources import files
from pathlib import Path
from string import Template

NAME = re.compile(r"[a-z][a-z0-9]*(?:[-_][a-z0-9]+)*")

LAYOUT = {
    "pyproject.toml.txt": "pyproject.toml",
    "README.md.txt": "README.md",
    "package_init.txt": "{package}/__init__.py",
    "adapter.txt": "{package}/adapter.py",
    "conformance.txt": "{package}/conformance.py",
    "test_conformance.txt": "tests/test_conformance.py",
}
"""Where each file of the template goes."""


def write_package(name: str, folder: Path | str) -> tuple[Path, ...]:
    """Write a package for a new adapter called `name` into `folder`/`name`, and return the files it wrote.

    The name is what `gingerly.connect` and a job call the adapter: small letters and digits, with single hyphens
    or underscores between. Nothing that exists is overwritten. Raises `ValueError` for a name that cannot be used,
    `FileExistsError` where the package's folder is there already, and `OSError` where it cannot be written.
    """
    words = names_for(name)
    home = Path(folder) / name
    if home.exists():
        raise FileExistsError(f"{home} is there already; nothing was written")
    template = files("gingerly.newadapter") / "template"
    written = []
    for source, target in LAYOUT.items():
        text = Template((template / source).read_text(encoding="utf-8")).substitute(words)
        path = home / target.format(**words)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        written.append(path)
    return tuple(written)


def names_for(name: str) -> dict[str, str]:
    """Return all that is called after an adapter's name; raises `ValueError` for a name that cannot be used."""
    package = name.replace("-", "_")
    if not NAME.fullmatch(name):
        raise ValueError(
            f"an adapter cannot be called {name!r}: use small letters and digits, beginning with a letter,"
            " with single hyphens or underscores between"
        )
    if keyword.iskeyword(package) or package in sys.stdlib_module_names or package.split("_")[0] == "gingerly":
        raise ValueError(f"an adapter cannot be called {name!r}: Python or this library uses the name {package!r}")
    if package in ("mock", "serial", "test", "tests"):
        raise ValueError(f"an adapter cannot be called {name!r}: that name is taken")
    if owner := packages_distributions().get(package):
        raise ValueError(
            f"an adapter cannot be called {name!r}: the installed {owner[0]} uses the name {package!r}"
        )
    return {"name": name, "package": package, "class_name": "".join(part.title() for part in package.split("_"))}
