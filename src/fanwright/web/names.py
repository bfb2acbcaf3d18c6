"""Names that come from outside, made safe for where they go: headers and ways back."""

from __future__ import annotations

import re
from urllib.parse import quote


def disposition(name: str, *, inline: bool = False) -> str:
    r"""Write the header that names a file a browser is given.

    Args:
        name: The name wanted, whatever characters it holds.
        inline: Whether it is shown rather than kept.

    Returns:
        The value of ``Content-Disposition``.

    Example:
        >>> print(disposition("214\r\nset-cookie: a.pdf"))
        attachment; filename="214_set-cookie_a.pdf"; filename*=UTF-8''214_set-cookie_a.pdf
    """
    safe = re.sub(r"[^\w.()-]+", "_", name).strip("._")[:100] or "file"
    plain = safe.encode("ascii", "replace").decode().replace("?", "_")
    kind = "inline" if inline else "attachment"
    return f"{kind}; filename=\"{plain}\"; filename*=UTF-8''{quote(safe)}"


def way_back(wanted: str, otherwise: str = "/bay") -> str:
    """Say where to go on after signing in: a page of ours, never another site.

    Args:
        wanted: What the address says.
        otherwise: Where to go when that is not a page of ours.

    Returns:
        A path.

    Example:
        >>> way_back("/bay/7"), way_back("//elsewhere.example/"), way_back("https://elsewhere.example/")
        ('/bay/7', '/bay', '/bay')
    """
    ours = re.fullmatch(r"/(?:[\w-][\w.-]*(?:/[\w.-]+)*)?", wanted, re.ASCII)
    return wanted if ours and ".." not in wanted else otherwise
