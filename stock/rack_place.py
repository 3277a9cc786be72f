"""Where the rack's file lies unless it is named: the folder for a user's own data."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

FILE = "rack.sqlite"


def usual_place(platform: str = sys.platform, told: Mapping[str, str] = os.environ) -> Path:
    """Return the rack's usual file.

    Windows keeps a user's data in `LOCALAPPDATA`, macOS in `Library/Application Support`;
    elsewhere it is `XDG_DATA_HOME`, if that is absolute, else `~/.local/share` (XDG Base
    Directory Specification 0.8). Three rules that have not changed in years are no reason
    for another library.
    """
    home = Path(told.get("HOME") or told.get("USERPROFILE") or Path.home())
    if platform == "win32":
        base = Path(told.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        named = told.get("XDG_DATA_HOME", "")
        base = Path(named) if named.startswith("/") else home / ".local" / "share"
    return base / "stavewright" / FILE
