"""Names from files and folders, fit for XML.

Owns      which characters XML 1.0 can hold.
Not here  marking up ``<`` and ``&``, which the libraries that write XML do.
"""

from __future__ import annotations

import re

_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def for_xml(text: str) -> str:
    """The text with a replacement character for each that XML 1.0 cannot hold."""
    return _NOT_IN_XML.sub("\ufffd", text)
