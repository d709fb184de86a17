"""What is on a printed sheet, in words."""

import subprocess
import unicodedata


def sheets(tool, pdf):
    """The words of each sheet of a PDF, without what depends on fonts: spaces and ligatures."""
    text = subprocess.run(
        [tool("pdftotext"), "-raw", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    return [joined(sheet) for sheet in text.split("\f") if sheet.strip()]


def joined(text):
    """A text without spaces and ligatures."""
    return "".join(unicodedata.normalize("NFKC", text).split())
