"""What every page has: a head that lets nothing in from the network, pictures built in, lists.

Plain string joining, no template: a name is escaped where it enters and is text from then on.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Sequence
from html import escape


def head(title: str, styles: Sequence[str], scripts: Sequence[str] = ()) -> str:
    """Up to its end; of the scripts, all of which the page may run, the first runs here."""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy(styles, scripts)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<link rel="icon" href="data:,">\n<title>{escape(title)}</title>\n'
        + "".join(f"<style>{s}</style>\n" for s in styles)
        + "".join(f"<script>{s}</script>\n" for s in scripts[:1])
        + "</head>\n"
    )


def _policy(styles: Sequence[str], scripts: Sequence[str]) -> str:
    """Nothing from the network, no script but the ones written here."""
    run = f"script-src {_hashes(scripts)}; " if scripts else ""
    return (
        f"default-src 'none'; img-src data:; style-src {_hashes(styles)}; {run}"
        "base-uri 'none'; form-action 'none'"
    )


def _hashes(texts: Sequence[str]) -> str:
    digests = (base64.b64encode(hashlib.sha256(t.encode("utf-8")).digest()) for t in texts)
    return " ".join(f"'sha256-{d.decode('ascii')}'" for d in digests)


def picture(png: bytes) -> str:
    """A PNG as an address that holds it all."""
    return "data:image/png;base64," + base64.b64encode(png).decode("ascii")


def items(lines: Iterable[str]) -> str:
    """Lines as those of a list."""
    return "".join(f"<li>{escape(line)}</li>\n" for line in lines)


def folded(summary: str, listed: str, *, kind: str = "") -> str:
    """A list, folded away."""
    return f"<details{kind}>\n<summary>{summary}</summary>\n<ul>\n{listed}</ul>\n</details>\n"
