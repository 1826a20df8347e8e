import sys
from pathlib import Path

# The bench of the checks' own tests serves here too; neither folder is a package.
sys.path.insert(0, str(Path(__file__).parents[1] / "unit" / "checks"))
