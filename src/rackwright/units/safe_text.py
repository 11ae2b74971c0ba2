"""Text that steers nothing: signs that a terminal, a printer or an editor obeys are written out instead.

The one list of such signs, for all that goes out: terminal, console, papers, files. Knows nothing of where a text goes,
and leaves whatever prints as it is.
"""

import re

STEERING = (
    *range(0x20), *range(0x7F, 0xA0),  # C0, DEL and C1 (ECMA-48)
    0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A),  # Bidi_Control (UAX 9)
    0x2028, 0x2029, *range(0x206A, 0x2070),  # line ends of their own; deprecated format signs (Unicode, chapter 23)
)  # fmt: skip
"""The code points obeyed instead of shown."""

_FOUND = re.compile(f"[{''.join(map(re.escape, map(chr, STEERING)))}\ud800-\udfff]")


def safe(text: str, keep: str = "") -> str:
    r"""The text with each sign that steers, and each half of a character, written as JSON and TOML do; not those in `keep`.

    >>> safe("A\x1b[2J\u202e1")
    'A\\u001b[2J\\u202e1'
    """
    if text.isprintable():
        return text
    return _FOUND.sub(
        lambda match: match.group() if match.group() in keep else f"\\u{ord(match.group()):04x}", text
    )
