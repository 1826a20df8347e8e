import sys
from pathlib import Path

# What makes held sheets and accidents to them lies beside the tests; the folder is no package.
sys.path.insert(0, str(Path(__file__).parent))
