"""Files that a study names: only beside the study itself, only text, only of bounded size."""

from pathlib import Path


def read_beside(name: str, folder: Path | None, limit: int) -> str:
    """Return the text of a file that a study names, from the study's folder only.

    Raises
    ------
    OSError
        If there is no such file, it is too long, or the name leads out of the folder. The
        message says what is allowed.
    """
    if folder is None:
        raise OSError("a study that did not come from a folder may name no files")
    path = Path(name)
    # Tells apart by the given name alone, before anything outside is looked at.
    if path.is_absolute() or ".." in path.parts or "\\" in name or "\0" in name:
        raise OSError("a file in the study's folder, by its relative name")
    full = folder / path
    if not full.resolve().is_relative_to(folder.resolve()) or not full.is_file():
        raise OSError("an existing file in the study's folder, by its relative name")
    if full.stat().st_size > limit:
        raise OSError(f"a file of at most {limit} bytes")
    try:
        return full.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise OSError("a text file in UTF-8") from None
