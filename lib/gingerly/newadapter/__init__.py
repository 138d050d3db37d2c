"""Write the beginnings of an adapter package: ready to edit, and held to the contract from the start."""

from gingerly.newadapter.writing import write_package

__all__ = ["write_package"]
