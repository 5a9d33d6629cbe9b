"""Write the JSON Schema of show files: ``python -m interlock.showfile.schema docs/show-file.schema.json``."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from interlock.showfile.models import json_schema


def main(path: str) -> None:
    """Write the schema to ``path``."""
    Path(path).write_text(json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
