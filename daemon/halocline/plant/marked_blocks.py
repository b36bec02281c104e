"""Parts of a document that are made from the code, between the marks that name them."""

import re
from collections.abc import Callable, Mapping

MARK = re.compile(r"(<!-- generated: ([a-z-]+) -->\n).*?(<!-- end -->)", re.DOTALL)


def filled(document: str, blocks: Mapping[str, Callable[[], str]]) -> str:
    """The document with every marked block written anew. Raises ValueError for a mark that no block has."""

    def block(match: re.Match[str]) -> str:
        begin, name, end = match.groups()
        if name not in blocks:
            raise ValueError(f"no table is called {name}; there are {', '.join(blocks)}")
        return f"{begin}\n{blocks[name]()}\n{end}"

    return MARK.sub(block, document)
