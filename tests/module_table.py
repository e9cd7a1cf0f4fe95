"""Write the module table of DEVELOPERS.md: each file and the first line of its docstring.

python tests/module_table.py
"""

from __future__ import annotations

import ast
from pathlib import Path

ROOT = Path(__file__).parent.parent
DEVELOPERS = ROOT / "DEVELOPERS.md"
START, END = "<!-- modules: python tests/module_table.py -->\n", "<!-- end of modules -->\n"


def module_table(package: Path) -> str:
    """A Markdown table of all modules in the order of the flow, package files left out."""
    order = [
        "", "hearing", "listening", "trade", "extraction", "review", "logbook", "answers", "cli",
    ]  # fmt: skip
    modules = [p for p in package.rglob("*.py") if p.name != "__init__.py"]
    modules.append(package / "cli" / "__init__.py")

    def place(module: Path) -> tuple[int, str]:
        parts = module.relative_to(package).parts
        return order.index(parts[0] if len(parts) > 1 else ""), module.as_posix()

    rows = ["| module | what it is for |", "| --- | --- |"]
    for module in sorted(modules, key=place):
        about = ast.get_docstring(ast.parse(module.read_text(encoding="utf-8"))) or ""
        first = " ".join(about.split("\n\n")[0].split()).replace("|", "\\|")
        rows.append(f"| `{module.relative_to(package).as_posix()}` | {first} |")
    return "\n".join(rows) + "\n"


def written_table(text: str) -> str:
    """The table as DEVELOPERS.md has it."""
    return text.partition(START)[2].partition(END)[0]


def main() -> None:
    """Put the table of the files on disk into DEVELOPERS.md."""
    text = DEVELOPERS.read_text(encoding="utf-8")
    before, _, rest = text.partition(START)
    after = rest.partition(END)[2]
    DEVELOPERS.write_text(
        before + START + module_table(ROOT / "fieldvoice") + END + after, encoding="utf-8"
    )


if __name__ == "__main__":
    main()
