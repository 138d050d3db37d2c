"""Packages that seem to be installed, as far as their metadata goes."""

from __future__ import annotations

from pathlib import Path


def also_installed(folder: Path, entry: str) -> None:
    """Install a package in `folder` that registers one more adapter by this entry point: only its metadata."""
    info = folder / "other-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: other\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(f"[gingerly.adapters]\n{entry}\n")
