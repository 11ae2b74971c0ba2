"""Print the lowest versions that pyproject.toml allows the program, as pip takes constraints."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads(Path("pyproject.toml").read_text("utf-8"))["project"]
for wanted in project["dependencies"]:
    print(re.sub(r"^([\w.-]+)>=([\w.]+).*", r"\1==\2", wanted))
