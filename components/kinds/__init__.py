"""Every kind of element: importing this package makes them all known.

A module is imported when one of its kinds is asked for: most layouts name a few.
"""

import re
from pathlib import Path

from components.declaration import KINDS

_NAME = re.compile(r'^    name = "([a-z-]+)"$', re.MULTILINE)

for _path in sorted(Path(__file__).parent.glob("*.py")):
    for _name in _NAME.findall(_path.read_text(encoding="utf-8")):
        KINDS.expect(_name, f"{__name__}.{_path.stem}")
