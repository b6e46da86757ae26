"""Where the project and its demo stand."""

from pathlib import Path

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "scenarios" / "hollow_ash"
