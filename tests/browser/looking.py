"""Open pages in a browser without a screen, many at once, and hear what a reader would trip over.

Every page stands in a frame of its own, as wide as a telephone, a tablet or a desk;
`look.js` measures words, lines and colours in each and writes its findings into the document.
"""

import html
import re
import subprocess
from pathlib import Path

from machine import program

__all__ = ["findings"]

LOOK = Path(__file__).with_name("look.js")
WIDTHS = (360, 768, 1280)


def findings(folder, pages, widths=WIDTHS):
    """Return what is wrong with some pages at some widths; `folder` holds the sheets that they name.

    Parameters
    ----------
    folder
        Where the pages look for their sheet.
    pages
        The text of each page, by a name to call it in a finding.
    widths
        Widths to look at [px].
    """
    frames = [
        f'<iframe title="{name} at {width}" width="{width}" height="700" style="border:0;filter:grayscale(1)" '
        f'srcdoc="{html.escape(text)}"></iframe>'
        for name, text in pages.items()
        for width in widths
    ]
    stage = Path(folder) / "stage.html"
    script = LOOK.read_text("utf-8")
    stage.write_text(
        f'<!DOCTYPE html><html lang="en"><meta charset="utf-8"><title>stage</title><body>{"".join(frames)}'
        f"<script>{script}</script></body></html>",
        "utf-8",
    )
    options = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--hide-scrollbars"]
    call = [program("chromium"), *options, f"--user-data-dir={folder}/profile", "--dump-dom", stage.as_uri()]
    told = subprocess.run(call, capture_output=True, text=True, check=True, timeout=120).stdout
    found = re.search(r'<pre id="findings">(.*?)</pre>', told, re.DOTALL)
    assert found is not None, "the browser did not finish"
    first, *lines = html.unescape(found[1]).splitlines()
    assert first == f"looked at {len(frames)}"
    return lines
