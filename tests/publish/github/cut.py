"""Cuts GitHub's OpenAPI description down to the calls that are made.

python tests/publish/github/cut.py path/to/api.github.com.json
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

REPO = "/repos/{owner}/{repo}"
CALLS = {
    "/user": ["get"],
    f"{REPO}/issues": ["get", "post"],
    f"{REPO}/issues/{{issue_number}}/comments": ["get", "post"],
    f"{REPO}/issues/comments/{{comment_id}}": ["patch"],
    f"{REPO}/statuses/{{sha}}": ["post"],
    f"{REPO}/commits/{{ref}}/statuses": ["get"],
    f"{REPO}/pulls": ["get"],
    f"{REPO}/contents/{{path}}": ["get"],
    f"{REPO}/git/blobs": ["post"],
    f"{REPO}/git/trees": ["post"],
    f"{REPO}/git/commits": ["post"],
    f"{REPO}/git/refs": ["post"],
    f"{REPO}/git/refs/{{ref}}": ["patch", "delete"],
}


def without_examples(node: Any) -> Any:
    if isinstance(node, dict):
        left_out = ("example", "examples", "x-github")
        return {key: without_examples(value) for key, value in node.items() if key not in left_out}
    return [without_examples(item) for item in node] if isinstance(node, list) else node


def references(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        for key, value in node.items():
            if key == "$ref":
                yield value
            else:
                yield from references(value)
    elif isinstance(node, list):
        for item in node:
            yield from references(item)


def cut(whole: dict[str, Any]) -> dict[str, Any]:
    paths = {
        path: {method: without_examples(whole["paths"][path][method]) for method in methods}
        for path, methods in CALLS.items()
    }
    components: dict[str, dict[str, Any]] = {}
    left = list(references(paths))
    while left:
        _, _, kind, name = left.pop().split("/")
        if name not in components.setdefault(kind, {}):
            components[kind][name] = without_examples(whole["components"][kind][name])
            left += references(components[kind][name])
    kept = {key: whole[key] for key in ("openapi", "info", "servers")}
    return {**kept, "paths": paths, "components": components}


if __name__ == "__main__":
    cut_down = cut(json.loads(Path(sys.argv[1]).read_text("utf-8")))
    text = json.dumps(cut_down, separators=(",", ":"), sort_keys=True)
    Path(__file__).with_name("api.json").write_text(text + "\n", "utf-8")
