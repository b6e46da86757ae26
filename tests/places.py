"""Where the project and its demo stand."""

from pathlib import Path

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "scenarios" / "hollow_ash"


def visible(folder: Path) -> list[str]:
    """Names of what a person sees in a folder."""
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))
