import sys
from pathlib import Path

# The folder is no package (tests are imported by path), so its one shared module needs this.
sys.path.insert(0, str(Path(__file__).parent))
