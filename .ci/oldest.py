"""Print the oldest releases that pyproject.toml allows, as pip's constraints: `numpy==1.26`, ..."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text())["project"]
for needed in project["dependencies"]:
    print(re.sub(r">=", "==", needed))
